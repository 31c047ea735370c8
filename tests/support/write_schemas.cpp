// Writes the schemas that are made from lists of fields into a folder. Used by tests/schemas.sh.
#include <filesystem>
#include <fstream>
#include <iostream>

#include "report/record/record_schema.hpp"

int main(int count, char** arguments) {
    if (count != 2) {
        std::cerr << "usage: write_schemas FOLDER\n";
        return 2;
    }
    const auto file = std::filesystem::path(arguments[1]) / "record.schema.json";
    std::ofstream out(file, std::ios::binary);
    out << tipwright::report::record_schema();
    return out.flush() ? 0 : 1;
}
