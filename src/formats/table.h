// Rows and columns as text: CSV after RFC 4180, JSON after RFC 8259, or padded columns for a terminal. Plain functions,
// any thread.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace landfall {

// monostate stands for "not measured": an empty field in CSV, null in JSON, a dash on the terminal.
using Cell = std::variant<std::monostate, bool, std::int64_t, double, std::string>;

struct Table {
    std::vector<std::string> columns;
    std::vector<std::vector<Cell>> rows;  // each as long as columns
};

// A member of a JSON object: an array with one object a row, or the first row alone.
struct JsonMember {
    std::string name;
    Table table;
    bool oneObject = false;
};

// What may come from outside is fit for a terminal here (src/system/printable.h): texts in columns are one line, those
// in CSV keep their line breaks, JSON escapes what JSON must.

// Header line first, CRLF after each record. A number is the shortest text that reads back as the same double; NaN is
// empty.
std::string toCsv(const Table& table);

// One object with the members in this order, indented. NaN and infinities are null; bytes that are no UTF-8 become
// U+FFFD.
std::string toJson(const std::vector<JsonMember>& members);

// Numbers to the right, words to the left, two spaces between; doubles with one decimal.
std::string toColumns(const Table& table);

}  // namespace landfall
