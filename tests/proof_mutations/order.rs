//! Spoilings of the order.

use plumbrail::parts::Layout;

use super::{Spoiling, add};

/// All of them, by the layout's own lines.
pub fn list(good: &Layout) -> Vec<Spoiling> {
    let mut list = Vec::new();
    for line in &good.order {
        let on = |list: &mut Vec<Spoiling>, what: &str, change: fn(&mut Layout, usize)| {
            let item = line.item.clone();
            add(list, format!("{what}: {}", item.text()), move |layout| {
                let i = layout.order.iter().position(|line| line.item == item)?;
                change(layout, i);
                Some(())
            });
        };
        on(&mut list, "not ordered", |layout, i| drop(layout.order.remove(i)));
        on(&mut list, "one too few ordered", |layout, i| {
            layout.order.iter_mut().skip(i).take(1).for_each(|line| line.quantity -= 1);
        });
        on(&mut list, "too few packs", |layout, i| {
            layout.order.iter_mut().skip(i).take(1).for_each(|line| line.packs = 0);
        });
    }
    add(&mut list, "nothing ordered", |layout| {
        layout.order.clear();
        Some(())
    });
    list
}
