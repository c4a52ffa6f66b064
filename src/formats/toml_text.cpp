#include "src/formats/toml_text.h"

#include <cstddef>
#include <optional>

#include <fmt/core.h>

namespace landfall {

namespace {

// Our own files have two levels and keys of one part. toml++ 3.3 stops by itself at 256 nested values but follows a
// dotted key of any length, and 100,000 parts were more than a thread's stack holds.
constexpr int deepestTable = 16;

// Where a text nests deeper, or a key has more parts, than `deepestTable`. As far as the text is TOML, strings and comments
// are read as TOML 1.0.0 does; after its first error the parser does not come.
class DepthScan {
public:
    explicit DepthScan(std::string_view given) : text(given) {}

    std::optional<TomlFault> fault() {
        int open = 0, dots = 0;
        while (at < text.size()) {
            const char c = text[at];
            if (c == '#') {
                skipTo('\n');
                continue;
            }
            if (c == '"' || c == '\'') {
                skipString(c);
                continue;
            }
            if (c == '[' || c == '{') {
                if (++open > deepestTable)
                    return here(fmt::format("values are nested more than {} deep", deepestTable));
            } else if (c == ']' || c == '}') {
                open -= open > 0 ? 1 : 0;
            } else if (c == '.' && ++dots >= deepestTable) {
                return here(fmt::format("a key has more than {} parts", deepestTable));
            }
            if (c == '[' || c == '{' || c == ']' || c == '}' || c == '=' || c == ',' || c == '\n') dots = 0;
            step();
        }
        return {};
    }

private:
    TomlFault here(std::string what) const { return {line, column, std::move(what)}; }

    void step() {
        ++column;
        if (text[at++] == '\n') {
            ++line;
            column = 1;
        }
    }
    void skip(std::size_t count) {
        while (count-- > 0 && at < text.size()) step();
    }
    void skipTo(char end) {
        while (at < text.size() && text[at] != end) step();
    }

    void skipString(char quote) {
        const std::string three(3, quote);
        const bool severalLines = text.substr(at, 3) == three;
        skip(severalLines ? 3 : 1);
        while (at < text.size()) {
            if (quote == '"' && text[at] == '\\') {
                skip(2);
            } else if (severalLines && text.substr(at, 3) == three) {
                skip(3);
                // quotes at the text's end
                for (int more = 0; more < 2 && at < text.size() && text[at] == quote; ++more) step();
                return;
            } else if (!severalLines && (text[at] == quote || text[at] == '\n')) {
                step();
                return;
            } else {
                step();
            }
        }
    }

    std::string_view text;
    std::size_t at = 0;
    std::uint32_t line = 1, column = 1;
};

}  // namespace

std::variant<toml::table, TomlFault> parseToml(std::string_view text, std::string_view fileName) {
    if (auto fault = DepthScan(text).fault()) return *fault;
    try {
        return toml::table(toml::parse(text, fileName));
    } catch (const toml::parse_error& error) {
        const auto where = error.source().begin;  // the parser's own words are for programmers
        return TomlFault{where.line, where.column, "this cannot be read; is a quote, a bracket or an = missing?"};
    }
}

}  // namespace landfall
