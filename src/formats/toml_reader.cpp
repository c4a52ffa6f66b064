#include "src/formats/toml_reader.h"

#include <sstream>
#include <variant>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/formats/toml_text.h"
#include "src/music/name_match.h"
#include "src/system/printable.h"

namespace landfall {

Result<toml::table> tomlTable(std::string_view text, std::string_view fileName) {
    auto parsed = parseToml(text, fileName);
    if (const auto* fault = std::get_if<TomlFault>(&parsed))
        return Error{Error::Code::badInput,
                     fmt::format("{}:{}:{}: not TOML: {}", fileName, fault->line, fault->column, fault->what)};
    return std::get<toml::table>(std::move(parsed));
}

void TomlReader::failAt(toml::source_position at, const std::string& what) {
    if (!failure)
        failure = Error{Error::Code::badInput, fmt::format("{}:{}:{}: {}", fileName, at.line, at.column, what)};
}

void TomlReader::fail(const toml::node& where, const std::string& what) { failAt(where.source().begin, what); }

void TomlReader::checkKeys(const toml::table& table, std::initializer_list<std::string_view> known) {
    for (const auto& [key, value] : table) {
        bool found = false;
        for (const std::string_view name : known) found = found || name == key.str();
        if (!found)
            failAt(key.source().begin,
                   fmt::format("'{}' is not known here: expected {}", printable(key.str()), fmt::join(known, ", ")));
    }
}

std::string TomlReader::shown(const toml::node& node) {
    std::ostringstream out;
    node.visit([&out](const auto& value) { out << value; });
    const std::string text = printable(out.str());
    return text.size() > 40 ? text.substr(0, 37) + "..." : text;
}

std::string TomlReader::text(const toml::table& table, std::string_view key, std::size_t longest, bool required) {
    const toml::node* node = table.get(key);
    if (!node) {
        if (required) fail(table, fmt::format("'{}' is missing: expected {} = \"...\"", key, key));
        return {};
    }
    const auto value = node->value_exact<std::string>();
    if (!value || characterCount(*value) > longest || (required && matchKey(*value).empty())
        || printable(*value) != *value) {
        fail(*node, fmt::format("'{}' must be one line of text, up to {} characters", key, longest));
        return {};
    }
    return *value;
}

double TomlReader::numberNode(const toml::node& node, std::string_view key, double least, double most) {
    const auto value = node.value<double>();
    if (node.is_number() && value && *value >= least && *value <= most) return *value;
    fail(node, fmt::format("'{}' must be a number from {:g} to {:g}, not {}", key, least, most, shown(node)));
    return least;
}

double TomlReader::number(const toml::table& table, std::string_view key, double least, double most, double otherwise) {
    const toml::node* node = table.get(key);
    return node ? numberNode(*node, key, least, most) : otherwise;
}

int TomlReader::whole(const toml::table& table, std::string_view key, int least, int most, int otherwise) {
    const toml::node* node = table.get(key);
    return node ? wholeNode(*node, key, least, most).value_or(otherwise) : otherwise;
}

std::optional<int> TomlReader::wholeNode(const toml::node& node, std::string_view key, int least, int most) {
    const auto value = node.value_exact<std::int64_t>();
    if (!value || *value < least || *value > most) {
        fail(node, fmt::format("'{}' must be a whole number from {} to {}, not {}", key, least, most, shown(node)));
        return {};
    }
    return static_cast<int>(*value);
}

bool TomlReader::yesOrNo(const toml::table& table, std::string_view key, bool otherwise) {
    const toml::node* node = table.get(key);
    if (!node) return otherwise;
    const auto value = node->value_exact<bool>();
    if (!value) fail(*node, fmt::format("'{}' must be true or false, not {}", key, shown(*node)));
    return value.value_or(otherwise);
}

std::vector<const toml::table*> TomlReader::tables(const toml::table& table, std::string_view key) {
    std::vector<const toml::table*> found;
    const toml::node* node = table.get(key);
    const toml::array* array = node ? node->as_array() : nullptr;
    if (!array || array->empty() || !array->is_homogeneous(toml::node_type::table)) {
        fail(node ? *node : table, fmt::format("'{}' is missing: expected at least one [[{}]] table", key, key));
        return found;
    }
    for (const toml::node& element : *array) found.push_back(element.as_table());
    return found;
}

}  // namespace landfall
