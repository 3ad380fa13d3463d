//! One cause, one message.
