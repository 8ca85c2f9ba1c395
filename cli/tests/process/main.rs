//! The program as a process: what it prints, writes and returns. `support` runs it; `help` holds the texts,
//! `input` the wrong inputs, `results` the files and documents, `streams` pipes, quiet and the interrupt key,
//! `outputs` what is written and what is never overwritten, `kills` signals at any moment, `gather` journals of many shards,
//! `sweep` studies that are killed, split and joined, `limits` memory and threads, `width` the columns of a terminal, `manual`
//! what the documents and the demonstration cases promise.

mod compensate;
mod figures;
mod gather;
mod help;
mod input;
mod kills;
mod lesson;
mod limits;
mod manual;
mod outputs;
mod report;
mod results;
mod streams;
mod support;
mod sweep;
mod verify;
mod width;
