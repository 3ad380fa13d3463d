//! What the document says of itself: the information dictionary, and the same as XMP (ISO 16684-1).

use pdf_writer::{Finish, Name, Pdf, Ref, TextStr};

use super::PdfFacts;
use crate::write::paper::legal;

/// What made the file, as viewers show it.
const PRODUCER: &str = concat!("plumbrail ", env!("CARGO_PKG_VERSION"));

/// The packet of XMP, and the object in which it stands.
pub(super) struct Metadata {
    pub id: Ref,
    pub packet: Vec<u8>,
}

/// Writes both.
pub(super) fn write(pdf: &mut Pdf, last: &mut Ref, facts: &PdfFacts) -> Metadata {
    let (info, id) = (last.bump(), last.bump());
    let mut dict = pdf.document_info(info);
    dict.title(TextStr(&legal(&facts.title)));
    let given = [(&b"Author"[..], &facts.author), (b"Subject", &facts.subject), (b"Keywords", &facts.keywords)];
    for (key, value) in given {
        if let Some(value) = value {
            dict.pair(Name(key), TextStr(&legal(value)));
        }
    }
    dict.producer(TextStr(PRODUCER));
    dict.finish();
    let packet = packet(facts).into_bytes();
    pdf.stream(id, &packet).pair(Name(b"Type"), Name(b"Metadata")).pair(Name(b"Subtype"), Name(b"XML"));
    Metadata { id, packet }
}

fn packet(facts: &PdfFacts) -> String {
    let mut rows = vec!["<dc:format>application/pdf</dc:format>".to_owned()];
    let one_language = |name: &str, value: &str| {
        format!("<dc:{name}><rdf:Alt><rdf:li xml:lang=\"x-default\">{}</rdf:li></rdf:Alt></dc:{name}>", escaped(value))
    };
    rows.push(one_language("title", &facts.title));
    if let Some(author) = &facts.author {
        rows.push(format!("<dc:creator><rdf:Seq><rdf:li>{}</rdf:li></rdf:Seq></dc:creator>", escaped(author)));
    }
    rows.extend(facts.subject.as_ref().map(|subject| one_language("description", subject)));
    rows.extend(facts.keywords.as_ref().map(|words| format!("<pdf:Keywords>{}</pdf:Keywords>", escaped(words))));
    rows.push(format!("<pdf:Producer>{PRODUCER}</pdf:Producer>"));
    let head = "<?xpacket begin=\"\u{feff}\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n\
         <x:xmpmeta xmlns:x=\"adobe:ns:meta/\"><rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\
         <rdf:Description rdf:about=\"\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\" \
         xmlns:pdf=\"http://ns.adobe.com/pdf/1.3/\">";
    format!("{head}\n{}\n</rdf:Description></rdf:RDF></x:xmpmeta>\n<?xpacket end=\"r\"?>\n", rows.join("\n"))
}

/// Text between tags.
fn escaped(text: &str) -> String {
    legal(text).replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}
