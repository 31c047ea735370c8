// The JSON Schema of a record (draft 2020-12), made from the same lists of fields that write and read one
// (fields.hpp): templates/record.schema.json is this text, and a test holds the two together (bash
// tests/schemas.sh writes it anew). What a field means, where its key does not say it, stands in
// record_schema_notes.cpp.
#pragma once

#include <span>
#include <string>

namespace tipwright::report {

struct SchemaNote {
    const char* field;  // "Type" or "Type.key"; "Record.key" for the record itself
    const char* note;
};
std::span<const SchemaNote> record_schema_notes();

// With a line feed at its end. Every note has its field, or std::logic_error.
std::string record_schema();

}  // namespace tipwright::report
