#include "src/formats/settings_file.h"

#include <algorithm>
#include <chrono>
#include <fstream>
#include <functional>
#include <iterator>
#include <optional>
#include <sstream>
#include <variant>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/formats/toml_text.h"
#include "src/system/machine.h"
#include "src/system/printable.h"
#include "src/system/replace_file.h"

namespace landfall {

namespace {

using Value = std::variant<bool, std::int64_t, double, std::string, std::vector<double>>;

// One key of the file. `set` is false where the value is not what `expected` says.
struct Key {
    const char* section;  // "" for the top of the file
    const char* name;
    std::string expected;
    std::function<Value(const Settings&)> get;
    std::function<bool(Settings&, const Value&)> set;
};

std::optional<double> asNumber(const Value& value) {
    if (const auto* whole = std::get_if<std::int64_t>(&value)) return static_cast<double>(*whole);
    if (const auto* real = std::get_if<double>(&value)) return *real;
    return {};
}

// `field` finds the member: [](auto& s) -> auto& { return s.student; }
template <typename Field>
Key textKey(const char* section, const char* name, Field field) {
    return {section, name, "text in quotes", [field](const Settings& s) { return Value(std::string(field(s))); },
            [field](Settings& s, const Value& value) {
                const auto* text = std::get_if<std::string>(&value);
                return text && (field(s) = *text, true);
            }};
}

// `words`: of the enumerators, in their order.
template <typename Words, typename Field>
Key wordKey(const char* section, const char* name, const Words& words, Field field) {
    return {section, name, fmt::format("one of \"{}\"", fmt::join(words, "\", \"")),
            [field, words](const Settings& s) { return Value(std::string(words[static_cast<std::size_t>(field(s))])); },
            [field, words](Settings& s, const Value& value) {
                const auto* text = std::get_if<std::string>(&value);
                const auto found = text ? std::find(words.begin(), words.end(), *text) : words.end();
                if (found == words.end()) return false;
                field(s) = static_cast<std::decay_t<decltype(field(s))>>(found - words.begin());
                return true;
            }};
}

template <typename Field>
Key yesKey(const char* section, const char* name, Field field) {
    return {section, name, "true or false", [field](const Settings& s) { return Value(field(s)); },
            [field](Settings& s, const Value& value) {
                const auto* yes = std::get_if<bool>(&value);
                return yes && (field(s) = *yes, true);
            }};
}

template <typename Field>
Key wholeKey(const char* section, const char* name, int from, int to, Field field) {
    return {section, name, fmt::format("a whole number from {} to {}", from, to),
            [field](const Settings& s) { return Value(std::int64_t{field(s)}); },
            [=](Settings& s, const Value& value) {
                const auto* whole = std::get_if<std::int64_t>(&value);
                return whole && *whole >= from && *whole <= to && (field(s) = static_cast<int>(*whole), true);
            }};
}

template <typename Field>
Key numberKey(const char* section, const char* name, double from, double to, Field field) {
    return {section, name, fmt::format("a number from {:g} to {:g}", from, to),
            [field](const Settings& s) { return Value(double{field(s)}); },
            [=](Settings& s, const Value& value) {
                const auto number = asNumber(value);
                return number && *number >= from && *number <= to && (field(s) = *number, true);
            }};
}

constexpr int highestKey = 348;  // GLFW_KEY_LAST, glfw3.h of GLFW 3.3

bool isDay(const std::string& text) {
    if (text.size() != 10) return false;
    for (std::size_t i = 0; i < 10; ++i)
        if (i == 4 || i == 7 ? text[i] != '-' : text[i] < '0' || text[i] > '9') return false;
    const auto day =
        std::chrono::year(std::stoi(text.substr(0, 4))) / std::stoi(text.substr(5, 2)) / std::stoi(text.substr(8, 2));
    return day.ok();
}

Key tuningKey() {
    return {"guitar", "tuning",
            "\"standard\", \"half step down\", \"drop D\" ..., or note names from the lowest string such as \"D2 A2 D3 "
            "G3 A3 D4\"",
            [](const Settings& s) { return Value(tuningName(s.guitar.openStrings)); },
            [](Settings& s, const Value& value) {
                const auto* text = std::get_if<std::string>(&value);
                if (!text) return false;
                auto strings = parseTuning(*text);
                if (!strings) return false;
                s.guitar.openStrings = std::move(*strings);
                return true;
            }};
}

template <typename Field>
Key perStringKey(const char* name, const char* what, double from, double to, bool orUnknown, Field field) {
    return {"guitar", name, what, [field](const Settings& s) { return Value(field(s)); },
            [=](Settings& s, const Value& value) {
                const auto* strings = std::get_if<std::vector<double>>(&value);
                if (!strings || strings->size() > 9) return false;
                for (const double one : *strings)
                    if (!((one >= from && one <= to) || (orUnknown && one == 0.0))) return false;
                field(s) = *strings;
                return true;
            }};
}

const std::vector<Key>& keys() {
    static const std::vector<Key> all{
        textKey("", "student", [](auto& s) -> auto& { return s.student; }),
        {"", "cautions_seen", "a day such as \"2027-03-01\"", [](const Settings& s) { return Value(s.cautionsSeen); },
         [](Settings& s, const Value& value) {
             const auto* text = std::get_if<std::string>(&value);
             return text && (text->empty() || isDay(*text)) && (s.cautionsSeen = *text, true);
         }},
        {"", "log", "a file's name in quotes", [](const Settings& s) { return Value(s.log.string()); },
         [](Settings& s, const Value& value) {
             const auto* text = std::get_if<std::string>(&value);
             return text && (s.log = *text, true);
         }},
        textKey("guitar", "name", [](auto& s) -> auto& { return s.guitar.name; }),
        tuningKey(),
        wholeKey("guitar", "capo", 0, 18, [](auto& s) -> auto& { return s.guitar.capo; }),
        wholeKey("guitar", "highest_fret", 12, 36, [](auto& s) -> auto& { return s.guitar.highestFret; }),
        yesKey("guitar", "left_handed", [](auto& s) -> auto& { return s.guitar.leftHanded; }),
        numberKey("guitar", "a4_hz", 430.0, 450.0, [](auto& s) -> auto& { return s.guitar.a4.value; }),
        perStringKey("gauges_inch",
                     "string gauges from the highest string, such as [0.010, 0.013, 0.017, 0.026, 0.036, 0.046]", 0.006,
                     0.090, false, [](auto& s) -> auto& { return s.guitar.gaugesInch; }),
        perStringKey("stiffness",
                     "inharmonicities of the open strings from the highest string, each from 0.000001 to 0.002 or 0 "
                     "where it is not known",
                     1e-6, 2e-3, true, [](auto& s) -> auto& { return s.guitar.stiffness; }),
        wholeKey("guitar", "plain_strings", 0, 9, [](auto& s) -> auto& { return s.guitar.plainStrings; }),
        numberKey("guitar", "scale_mm", 450.0, 760.0, [](auto& s) -> auto& { return s.guitar.scaleMm; }),
        numberKey("guitar", "radius_mm", 0.0, 1000.0, [](auto& s) -> auto& { return s.guitar.radiusMm; }),
        numberKey("guitar", "action_mm", 0.0, 6.0, [](auto& s) -> auto& { return s.guitar.actionMm; }),
        textKey("device", "name", [](auto& s) -> auto& { return s.deviceName; }),
        yesKey("device", "simulated", [](auto& s) -> auto& { return s.simulated; }),
        wholeKey("device", "channel", 1, 64, [](auto& s) -> auto& { return s.channel; }),
        wholeKey("device", "frames", 64, 512, [](auto& s) -> auto& { return s.frames; }),
        numberKey("practice", "aim_cents", 3.0, 100.0, [](auto& s) -> auto& { return s.aim.value; }),
        wordKey("practice", "target", targetNames, [](auto& s) -> auto& { return s.target; }),
        wordKey("practice", "feedback", tellingNames, [](auto& s) -> auto& { return s.feedback; }),
        wordKey("practice", "trace", tracingNames, [](auto& s) -> auto& { return s.trace; }),
        wordKey("practice", "go_on", goOnNames, [](auto& s) -> auto& { return s.goOn; }),
        wholeKey("practice", "today_minutes", 5, 60, [](auto& s) -> auto& { return s.todayMinutes; }),
        yesKey("practice", "keep_takes", [](auto& s) -> auto& { return s.keepTakes; }),
        numberKey("sound", "level_db", -60.0, 0.0, [](auto& s) -> auto& { return s.soundLevel.value; }),
        yesKey("sound", "target_note", [](auto& s) -> auto& { return s.targetNote; }),
        wordKey("sound", "results", soundedNames, [](auto& s) -> auto& { return s.results; }),
        textKey("sound", "output", [](auto& s) -> auto& { return s.outputName; }),
        numberKey("window", "text_size", 1.0, 1.5, [](auto& s) -> auto& { return s.textSize; }),
        wordKey("window", "theme", themeNames, [](auto& s) -> auto& { return s.theme; }),
        wholeKey("window", "width", 1024, 16384, [](auto& s) -> auto& { return s.windowWidth; }),
        wholeKey("window", "height", 600, 16384, [](auto& s) -> auto& { return s.windowHeight; }),
        yesKey("window", "full_screen", [](auto& s) -> auto& { return s.fullScreen; }),
        wholeKey("keys", "again", 32, highestKey, [](auto& s) -> auto& { return s.keys.again; }),
        wholeKey("keys", "next", 32, highestKey, [](auto& s) -> auto& { return s.keys.next; }),
        wholeKey("keys", "discard", 32, highestKey, [](auto& s) -> auto& { return s.keys.discard; }),
        wholeKey("keys", "see", 32, highestKey, [](auto& s) -> auto& { return s.keys.see; }),
        wholeKey("keys", "under", 32, highestKey, [](auto& s) -> auto& { return s.keys.under; }),
        wholeKey("keys", "on", 32, highestKey, [](auto& s) -> auto& { return s.keys.on; }),
        wholeKey("keys", "over", 32, highestKey, [](auto& s) -> auto& { return s.keys.over; }),
    };
    return all;
}

std::optional<Value> valueOf(const toml::node& node) {
    if (const auto* yes = node.as_boolean()) return Value(yes->get());
    if (const auto* whole = node.as_integer()) return Value(whole->get());
    if (const auto* real = node.as_floating_point()) return Value(real->get());
    if (const auto* text = node.as_string()) return Value(text->get());
    if (const auto* day = node.as_date()) {
        const toml::date& date = day->get();
        return Value(fmt::format("{:04}-{:02}-{:02}", date.year, date.month, date.day));
    }
    const auto* array = node.as_array();
    if (!array) return {};
    std::vector<double> numbers;
    for (const toml::node& item : *array) {
        const auto number = item.value<double>();
        if (!number) return {};
        numbers.push_back(*number);
    }
    return Value(std::move(numbers));
}

// Reads a table into settings and says what it could not use.
class SettingsReader {
public:
    SettingsReader(const std::filesystem::path& file, const toml::table& table)
        : name(printable(file.string())), root(table) {}

    LoadedSettings read() {
        for (const Key& key : keys()) readKey(key);
        if (const auto sound = checkGuitar(loaded.settings.guitar); !sound) {
            const toml::node* section = root.get("guitar");
            warn(section ? section->source().begin.line : 1,
                 fmt::format("[guitar]: {}; the default guitar is used", sound.error().message));
            loaded.settings.guitar = Guitar{};
        }
        listUnknown();
        return std::move(loaded);
    }

private:
    void warn(toml::source_index line, const std::string& what) {
        loaded.warnings.push_back(fmt::format("{}:{}: {}", name, line, printable(what)));
    }

    void readKey(const Key& key) {
        const toml::table* table = *key.section == '\0' ? &root : root[key.section].as_table();
        const toml::node* node = table ? table->get(key.name) : nullptr;
        if (!node) return;
        const auto value = valueOf(*node);
        if (value && key.set(loaded.settings, *value)) return;
        warn(node->source().begin.line, fmt::format("{}: expected {}; the default is used", key.name, key.expected));
    }

    void listUnknown() {
        std::vector<std::string> unknown;
        toml::source_index firstLine = 0;
        const auto note = [&](const toml::key& key, const std::string& shown) {
            if (unknown.empty()) firstLine = key.source().begin.line;
            unknown.push_back(shown);
        };
        const auto isKnown = [](std::string_view section, std::string_view key) {
            return std::any_of(keys().begin(), keys().end(),
                               [&](const Key& one) { return one.section == section && one.name == key; });
        };
        const auto isSection = [](std::string_view section) {
            return std::any_of(keys().begin(), keys().end(), [&](const Key& one) { return one.section == section; });
        };
        for (const auto& [key, node] : root) {
            if (!isSection(key.str())) {
                if (!isKnown("", key.str())) note(key, std::string(key.str()));
            } else if (const auto* section = node.as_table()) {
                for (const auto& [inner, value] : *section)
                    if (!isKnown(key.str(), inner.str())) note(inner, fmt::format("{}.{}", key.str(), inner.str()));
            } else {
                warn(node.source().begin.line,
                     fmt::format("{}: expected a section, [{}]; the defaults are used", key.str(), key.str()));
            }
        }
        if (!unknown.empty())
            warn(firstLine, fmt::format("not known here, and left as it is: {}", fmt::join(unknown, ", ")));
    }

    std::string name;
    const toml::table& root;
    LoadedSettings loaded;
};

// Empty where there is no such file.
Result<std::optional<std::string>> textOf(const std::filesystem::path& file) {
    std::error_code error;
    if (!std::filesystem::exists(file, error) && !error) return std::optional<std::string>();
    std::ifstream in;
    if (!error && std::filesystem::is_regular_file(file, error)) {
        if (const auto size = std::filesystem::file_size(file, error); !error && size > largestTomlFile)
            return Error{
                Error::Code::badInput,
                fmt::format(
                    "the settings {} have {} bytes, more than settings ever need: move that file away for the defaults",
                    file.string(), size)};
        in.open(file, std::ios::binary);
    }
    if (in.is_open()) return std::optional(std::string(std::istreambuf_iterator<char>(in), {}));
    return Error{
        Error::Code::unreadable,
        fmt::format("the settings {} cannot be read: allow reading that file, or move it away for the defaults",
                    file.string())};
}

void insert(toml::table& table, const char* name, const Value& value) {
    std::visit(
        [&](const auto& held) {
            if constexpr (std::is_same_v<std::decay_t<decltype(held)>, std::vector<double>>) {
                toml::array array;
                for (const double number : held) array.push_back(number);
                table.insert_or_assign(name, std::move(array));
            } else {
                table.insert_or_assign(name, held);
            }
        },
        value);
}

// The section of that name, made where there is none; what stood in its place is no section and gives way.
toml::table& sectionOf(toml::table& root, const char* section) {
    if (*section == '\0') return root;
    if (toml::table* there = root[section].as_table()) return *there;
    root.insert_or_assign(section, toml::table{});
    return *root[section].as_table();
}

std::string textOf(const toml::table& table) {
    std::ostringstream text;
    text << "# Landfall's settings. A key that is left out has its default. Comments written here are not kept.\n\n"
         << table << "\n";
    return text.str();
}

}  // namespace

Result<LoadedSettings> loadSettings(const std::filesystem::path& file) {
    const auto text = textOf(file);
    if (!text) return text.error();
    if (!*text) return LoadedSettings{};
    const auto parsed = parseToml(**text, file.string());
    if (const auto* table = std::get_if<toml::table>(&parsed)) return SettingsReader(file, *table).read();
    const TomlFault& fault = std::get<TomlFault>(parsed);
    return LoadedSettings{{},
                          {fmt::format("{}:{}: not TOML ({}); the defaults are used until it is mended",
                                       printable(file.string()), fault.line, fault.what)},
                          true};
}

namespace {

// Writes the keys that differ from `given`, else from what the file says.
Result<void> save(const std::filesystem::path& file, const Settings* given, const Settings& settings) {
    const auto text = textOf(file);
    if (!text) return text.error();
    toml::table table;
    bool wasRead = false;
    Settings read;
    if (*text) {
        auto parsed = parseToml(**text, file.string());
        if (auto* whole = std::get_if<toml::table>(&parsed)) {
            table = std::move(*whole);
            read = SettingsReader(file, table).read().settings;
            wasRead = true;
        } else {
            std::string beside = file.string() + ".unreadable";
            std::error_code ignored;
            for (int number = 2; std::filesystem::exists(beside, ignored); ++number)
                beside = fmt::format("{}.unreadable-{}", file.string(), number);
            if (auto kept = replaceFile(beside, **text); !kept) return kept;
        }
    }
    const Settings& before = given ? *given : read;
    for (const Key& key : keys())
        if ((!wasRead && !given) || key.get(settings) != key.get(before))
            insert(sectionOf(table, key.section), key.name, key.get(settings));
    return replaceFile(file, textOf(table));
}

}  // namespace

Result<void> saveSettings(const std::filesystem::path& file, const Settings& settings) {
    return save(file, nullptr, settings);
}

Result<void> saveChanges(const std::filesystem::path& file, const Settings& before, const Settings& after) {
    return save(file, &before, after);
}

Result<std::filesystem::path> settingsFile() {
    auto folder = settingsFolder();
    if (!folder) return folder;
    return *folder / "settings.toml";
}

Result<std::filesystem::path> chosenLogFile(const Settings& settings, const std::string& fromCommandLine) {
    if (!fromCommandLine.empty()) return std::filesystem::path(fromCommandLine);
    if (settings.log.is_absolute()) return settings.log;
    auto folder = dataFolder();
    if (!folder) return folder;
    return *folder / (settings.log.empty() ? std::filesystem::path("log.sqlite") : settings.log);
}

}  // namespace landfall
