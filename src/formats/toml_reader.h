// Reads the values of one TOML file strictly, and keeps the first thing that is wrong with it. For drill, phrase and
// lesson files. Any thread.
#pragma once

#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <toml++/toml.h>

#include "src/music/drill.h"
#include "src/music/line.h"
#include "src/system/result.h"

namespace landfall {

// The file as a table; the error names file, line and column.
Result<toml::table> tomlTable(std::string_view text, std::string_view fileName);

// A drill or a phrase that is one table of a file; errors as of a file of its own.
Result<Drill> drillIn(const toml::table& table, std::string_view fileName);
Result<Line> phraseIn(const toml::table& table, std::string_view fileName);

class TomlReader {
public:
    explicit TomlReader(std::string_view name) : fileName(name) {}

    std::optional<Error> failure;  // "my.toml:12:9: 'tries' must be a whole number from 1 to 6, not 60"

protected:
    void fail(const toml::node& where, const std::string& what);
    void checkKeys(const toml::table& table, std::initializer_list<std::string_view> known);
    // What stands in the file, as short as an error line wants it.
    static std::string shown(const toml::node& node);

    std::string text(const toml::table& table, std::string_view key, std::size_t longest, bool required);
    double number(const toml::table& table, std::string_view key, double least, double most, double otherwise);
    double numberNode(const toml::node& node, std::string_view key, double least, double most);
    int whole(const toml::table& table, std::string_view key, int least, int most, int otherwise);
    std::optional<int> wholeNode(const toml::node& node, std::string_view key, int least, int most);
    bool yesOrNo(const toml::table& table, std::string_view key, bool otherwise);
    // At least one [[key]].
    std::vector<const toml::table*> tables(const toml::table& table, std::string_view key);

private:
    void failAt(toml::source_position at, const std::string& what);

    std::string_view fileName;
};

}  // namespace landfall
