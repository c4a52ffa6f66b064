#include "src/formats/table.h"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "src/system/printable.h"

namespace landfall {

namespace {

using Json = nlohmann::ordered_json;

// RFC 4180, section 2, rules 5 to 7: quoted where the text holds a comma, a quote or a line break; quotes doubled.
// A space at either end is quoted as well, because some readers trim it.
std::string csvText(const std::string& given) {
    std::string text = printableLines(given);
    const bool spaced = !text.empty() && (text.front() == ' ' || text.back() == ' ');
    if (!spaced && text.find_first_of(",\"\r\n") == std::string::npos) return text;
    std::string quoted(1, '"');
    for (const char c : text) {
        if (c == '"') quoted += '"';
        quoted += c;
    }
    quoted += '"';
    return quoted;
}

struct CsvField {
    std::string operator()(std::monostate) const { return {}; }
    std::string operator()(bool value) const { return value ? "true" : "false"; }
    std::string operator()(std::int64_t value) const { return fmt::format("{}", value); }
    std::string operator()(double value) const {
        return std::isfinite(value) ? fmt::format("{}", value) : std::string();
    }
    std::string operator()(const std::string& value) const { return csvText(value); }
};

struct JsonValue {
    Json operator()(std::monostate) const { return nullptr; }
    Json operator()(double value) const { return std::isfinite(value) ? Json(value) : Json(nullptr); }
    Json operator()(const auto& value) const { return value; }
};

struct TerminalField {
    std::string operator()(std::monostate) const { return "–"; }
    std::string operator()(bool value) const { return value ? "yes" : "no"; }
    std::string operator()(std::int64_t value) const { return fmt::format("{}", value); }
    std::string operator()(double value) const { return std::isfinite(value) ? fmt::format("{:.1f}", value) : "–"; }
    std::string operator()(const std::string& value) const { return printable(value); }
};

Json rowObject(const Table& table, const std::vector<Cell>& row) {
    Json object = Json::object();
    for (std::size_t i = 0; i < table.columns.size(); ++i) object[table.columns[i]] = std::visit(JsonValue{}, row[i]);
    return object;
}

bool isNumber(const Cell& cell) {
    return std::holds_alternative<std::int64_t>(cell) || std::holds_alternative<double>(cell);
}

bool isNumeric(const Table& table, std::size_t column) {
    return std::any_of(table.rows.begin(), table.rows.end(), [&](const auto& row) { return isNumber(row[column]); });
}

std::string padded(const std::string& text, std::size_t width, bool toTheRight) {
    const std::string space(width - std::min(width, characterCount(text)), ' ');
    return toTheRight ? space + text : text + space;
}

}  // namespace

std::string toCsv(const Table& table) {
    std::string text;
    const auto append = [&text](std::size_t column, const std::string& field) {
        if (column > 0) text += ',';
        text += field;
    };
    for (std::size_t i = 0; i < table.columns.size(); ++i) append(i, csvText(table.columns[i]));
    text += "\r\n";
    for (const auto& row : table.rows) {
        for (std::size_t i = 0; i < row.size(); ++i) append(i, std::visit(CsvField{}, row[i]));
        text += "\r\n";
    }
    return text;
}

std::string toJson(const std::vector<JsonMember>& members) {
    Json document = Json::object();
    for (const JsonMember& member : members) {
        if (member.oneObject) {
            document[member.name] =
                member.table.rows.empty() ? Json(nullptr) : rowObject(member.table, member.table.rows.front());
            continue;
        }
        Json rows = Json::array();
        for (const auto& row : member.table.rows) rows.push_back(rowObject(member.table, row));
        document[member.name] = std::move(rows);
    }
    return printableLines(document.dump(2, ' ', false, Json::error_handler_t::replace)) + "\n";
}

std::string toColumns(const Table& table) {
    std::vector<std::vector<std::string>> lines{table.columns};
    for (const auto& row : table.rows) {
        auto& line = lines.emplace_back();
        for (const Cell& cell : row) line.push_back(std::visit(TerminalField{}, cell));
    }
    std::vector<std::size_t> widths(table.columns.size(), 0);
    for (const auto& line : lines)
        for (std::size_t i = 0; i < line.size(); ++i) widths[i] = std::max(widths[i], characterCount(line[i]));
    std::vector<bool> toTheRight;
    for (std::size_t i = 0; i < table.columns.size(); ++i) toTheRight.push_back(isNumeric(table, i));
    std::string text;
    for (const auto& line : lines) {
        std::string shown;
        for (std::size_t i = 0; i < line.size(); ++i) {
            if (i > 0) shown += "  ";
            shown += padded(line[i], widths[i], toTheRight[i]);
        }
        text += shown.substr(0, shown.find_last_not_of(' ') + 1) + "\n";
    }
    return text;
}

}  // namespace landfall
