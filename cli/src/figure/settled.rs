//! A PDF in a fixed order. The converter writes objects and dictionaries in an order of chance; the same drawing should be
//! the same file.

use std::collections::BTreeMap;

use lopdf::{Dictionary, Document, Object, ObjectId};

/// The same document with the keys of every dictionary sorted and its objects numbered as one meets them from the trailer on.
///
/// # Errors
/// A sentence of the reader or the writer.
pub(super) fn settled(pdf: &[u8]) -> Result<Vec<u8>, String> {
    let mut document = Document::load_mem(pdf).map_err(|e| e.to_string())?;
    sort(&mut document.trailer);
    let mut order = Vec::new();
    let mut numbers = BTreeMap::new();
    meet_all(&document.trailer, &mut order, &mut numbers);
    let mut next = 0;
    while let Some(id) = order.get(next) {
        if let Some(object) = document.objects.get_mut(id) {
            settle(object);
            meet(object, &mut order, &mut numbers);
        }
        next += 1;
    }
    let mut objects = std::mem::take(&mut document.objects);
    document.objects = order
        .iter()
        .filter_map(|id| {
            let mut object = objects.remove(id)?;
            renumber(&mut object, &numbers);
            Some((*numbers.get(id)?, object))
        })
        .collect();
    renumber_all(&mut document.trailer, &numbers);
    document.max_id = order.len() as u32;
    let mut bytes = Vec::new();
    document.save_to(&mut bytes).map_err(|e| e.to_string())?;
    Ok(bytes)
}

type Numbers = BTreeMap<ObjectId, ObjectId>;

/// The dictionary of a dictionary or of a stream.
fn dictionary(object: &mut Object) -> Option<&mut Dictionary> {
    match object {
        Object::Dictionary(dictionary) => Some(dictionary),
        Object::Stream(stream) => Some(&mut stream.dict),
        _ => None,
    }
}

fn sort(dictionary: &mut Dictionary) {
    let mut entries: Vec<(Vec<u8>, Object)> =
        dictionary.iter().map(|(key, value)| (key.clone(), value.clone())).collect();
    entries.sort_by(|a, b| a.0.cmp(&b.0));
    let mut sorted = Dictionary::new();
    for (key, mut value) in entries {
        settle(&mut value);
        sorted.set(key, value);
    }
    *dictionary = sorted;
}

/// Sorts the keys inside an object.
fn settle(object: &mut Object) {
    if let Object::Array(items) = object {
        items.iter_mut().for_each(settle);
    } else if let Some(dictionary) = dictionary(object) {
        sort(dictionary);
    }
}

/// Numbers the objects that an object refers to, in the order of its keys.
fn meet(object: &Object, order: &mut Vec<ObjectId>, numbers: &mut Numbers) {
    match object {
        Object::Reference(id) => {
            numbers.entry(*id).or_insert_with(|| {
                order.push(*id);
                (order.len() as u32, 0)
            });
        }
        Object::Array(items) => items.iter().for_each(|item| meet(item, order, numbers)),
        Object::Dictionary(dictionary) => meet_all(dictionary, order, numbers),
        Object::Stream(stream) => meet_all(&stream.dict, order, numbers),
        _ => {}
    }
}

fn meet_all(dictionary: &Dictionary, order: &mut Vec<ObjectId>, numbers: &mut Numbers) {
    dictionary.iter().for_each(|(_, value)| meet(value, order, numbers));
}

fn renumber(object: &mut Object, numbers: &Numbers) {
    match object {
        Object::Reference(id) => {
            if let Some(number) = numbers.get(id) {
                *id = *number;
            }
        }
        Object::Array(items) => items.iter_mut().for_each(|item| renumber(item, numbers)),
        _ => {
            if let Some(dictionary) = dictionary(object) {
                renumber_all(dictionary, numbers);
            }
        }
    }
}

fn renumber_all(dictionary: &mut Dictionary, numbers: &Numbers) {
    dictionary.iter_mut().for_each(|(_, value)| renumber(value, numbers));
}
