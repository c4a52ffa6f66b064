#include "src/formats/drill_file.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <initializer_list>
#include <optional>
#include <ranges>
#include <sstream>
#include <system_error>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/formats/built_in_files.h"
#include "src/formats/text_file.h"
#include "src/formats/toml_reader.h"
#include "src/formats/toml_text.h"
#include "src/music/chord_move.h"
#include "src/music/name_match.h"
#include "src/music/playable.h"
#include "src/system/machine.h"
#include "src/system/printable.h"
#include "src/system/replace_file.h"

namespace landfall {

namespace {

constexpr double longestDrill = 240.0;  // s; the limit of a drill, for the hand's sake

class DrillReader : public TomlReader {
public:
    using TomlReader::TomlReader;

    Drill read(const toml::table& table) {
        Drill drill;
        checkKeys(table, {"name", "trains", "how", "meanwhile", "subject", "tries", "sets", "rest_s", "guided",
                          "last_set_by_ear", "target", "step", "place"});
        drill.name = text(table, "name", longestDrillName, true);
        drill.trains = text(table, "trains", 300, false);
        drill.how = text(table, "how", 600, false);
        drill.meanwhile = text(table, "meanwhile", 300, false);
        drill.subject = oneOf<Subject>(table, "subject", subjectNames).value_or(Subject::landing);
        drill.tries = whole(table, "tries", 1, 6, drill.tries);
        drill.sets = whole(table, "sets", 1, 10, drill.sets);
        drill.rest = Seconds(number(table, "rest_s", 20.0, 120.0, drill.rest.value));
        drill.guidedTries = whole(table, "guided", 0, 6, drill.guidedTries);
        drill.lastSetByEar = yesOrNo(table, "last_set_by_ear", drill.lastSetByEar);
        for (const toml::table* step : tables(table, "step")) drill.steps.push_back(readStep(*step));
        for (const toml::table* place : tables(table, "place")) readPlaces(*place, drill);
        drill.target = oneOf<Target>(table, "target", targetNames);
        if (!failure) checkStrings(table, drill);
        if (!failure && drill.target) checkTarget(*table.get("target"), drill);
        if (!failure) checkCare(table, drill);
        return drill;
    }

private:
    // The enumerator that is named so; empty where there is none.
    template <typename Enum, std::size_t Count>
    std::optional<Enum> oneOf(const toml::table& table, const char* key, const std::array<const char*, Count>& names) {
        const toml::node* node = table.get(key);
        if (!node) return {};
        const auto word = node->value_exact<std::string>();
        const auto found = std::find(names.begin(), names.end(), word.value_or(""));
        if (found != names.end()) return static_cast<Enum>(found - names.begin());
        fail(*node, fmt::format("'{}' must be one of \"{}\", not {}", key, fmt::join(names, "\", \""), shown(*node)));
        return {};
    }

    void checkTarget(const toml::node& at, const Drill& drill) {
        const bool several = !drill.with.empty();
        if (drill.target == Target::just && !several)
            fail(at, "'target' \"just\" holds one string against another: its places need others, in their 'with'");
        if (drill.target == Target::startNote && several)
            fail(at,
                 "'target' \"start note\" is for one string; several are held against \"concert\", \"own guitar\" "
                 "or \"just\"");
    }

    DrillStep readStep(const toml::table& table) {
        checkKeys(table, {"gesture", "from", "to", "offset", "with"});
        DrillStep step;
        const std::string name = text(table, "gesture", 20, true);
        if (failure) return step;
        const auto gesture = parseGesture(name);
        if (!gesture && parseGesture(name, Offered::inLines)) {
            fail(*table.get("gesture"),
                 fmt::format("a {} stands beside other notes, and no try of a drill could be one; write it in a phrase "
                             "(`landfall phrases \"let it fall\" --file`)",
                             name));
            return step;
        }
        if (!gesture) {
            fail(*table.get("gesture"), gesture.error().message);
            return step;
        }
        step.gesture = *gesture;
        step.fromSemitones = number(table, "from", -24.0, 24.0, 0.0);
        step.toSemitones = number(table, "to", -24.0, 24.0, 0.0);
        step.fretOffset = whole(table, "offset", -12, 12, 0);
        for (const toml::table* other : others(table)) {
            checkKeys(*other, {"from", "to"});
            step.with.push_back({number(*other, "from", -24.0, 24.0, 0.0), number(*other, "to", -24.0, 24.0, 0.0)});
        }
        const toml::node* where = table.get("to") ? table.get("to") : table.get("from");
        const GestureKind& kind = kindOf(step.gesture);
        if (!isValid(kind, step.fromSemitones, step.toSemitones)) fail(where ? *where : table, std::string(kind.valid));
        else if (kind.bends)
            if (const auto why = whyTooSmall(name, step.toSemitones - step.fromSemitones))
                fail(where ? *where : table, *why + "; write it in a phrase, as a hint");
        return step;
    }

    void readPlaces(const toml::table& table, Drill& drill) {
        checkKeys(table, {"string", "frets", "with"});
        if (!table.get("string")) fail(table, "'string' is missing: expected string = 1 (the highest) to 9");
        const int string = whole(table, "string", 1, 9, 1);
        const toml::node* frets = table.get("frets");
        if (!frets) fail(table, "'frets' is missing: expected frets = 8, frets = [8, 9, 10] or frets = \"8-10\"");
        if (failure) return;
        // A bend needs a finger on the string.
        const int least = widestBend(drill) > 0.0 ? 1 : 0;
        const std::size_t before = drill.places.size();
        const auto add = [&](std::optional<int> fret) {
            if (fret) drill.places.push_back({string, *fret});
        };
        if (const toml::array* list = frets->as_array()) {
            if (list->empty()) fail(*frets, "'frets' is empty: expected frets = [8, 9, 10]");
            for (const toml::node& fret : *list) add(wholeNode(fret, "frets", least, 36));
        } else if (const auto range = frets->value_exact<std::string>()) {
            const auto dash = range->find('-');
            int first = -1, last = -1;
            const char *begin = range->data(), *end = begin + range->size();
            const bool split = dash != std::string::npos
                               && std::from_chars(begin, begin + dash, first).ptr == begin + dash
                               && std::from_chars(begin + dash + 1, end, last).ptr == end;
            if (!split || first < least || last < first || last > 36)
                fail(*frets, fmt::format("'frets' must be a range such as \"8-10\" within {} to 36, not {}", least,
                                         shown(*frets)));
            else
                for (int fret = first; fret <= last; ++fret) add(fret);
        } else {
            add(wholeNode(*frets, "frets", least, 36));
        }
        drill.with.resize(drill.places.size());
        const auto rest = others(table);
        for (const toml::table* other : rest) readOther(*other, before, least, drill);
        for (std::size_t i = before; !rest.empty() && i < drill.places.size(); ++i) {
            std::vector<NeckPlace> together = drill.with[i];
            together.push_back(drill.places[i]);
            if (const auto why = whyNotTogether(together)) return fail(*table.get("with"), *why);
        }
    }

    // with = [{ ... }, { ... }]: a table for each other string.
    std::vector<const toml::table*> others(const toml::table& table) {
        return table.get("with") ? tables(table, "with") : std::vector<const toml::table*>();
    }

    // Another string that is struck too: a fret for each of the place's.
    void readOther(const toml::table& table, std::size_t before, int least, Drill& drill) {
        checkKeys(table, {"string", "frets"});
        const int string = whole(table, "string", 1, 9, 1);
        const toml::array* frets = table.get_as<toml::array>("frets");
        const std::size_t wanted = drill.places.size() - before;
        if (failure) return;
        if (!table.get("string") || !frets || frets->size() != wanted)
            return fail(table, fmt::format("'with' needs a string and a fret for each of the place's {}: for example "
                                           "with = [{{ string = 2, frets = [3] }}]",
                                           wanted));
        for (std::size_t i = 0; i < wanted; ++i)
            if (const auto fret = wholeNode((*frets)[i], "frets", least, 36))
                drill.with[before + i].push_back({string, *fret});
    }

    // Several strings at once.
    void checkStrings(const toml::table& table, Drill& drill) {
        const auto strings = [](const auto& each) { return each.size(); };
        const std::size_t most = drill.with.empty() ? 0 : std::ranges::max(drill.with | std::views::transform(strings));
        if (most == 0) drill.with.clear();
        for (const DrillStep& step : drill.steps) {
            if (most == 0 && step.with.empty()) continue;
            if (!mayBeTogether(step.gesture))
                return fail(table, "several strings at once are a note, a slide, a bend or a release");
            if (step.with.size() > most)
                return fail(table, "a step's 'with' tells of more strings than its places have");
        }
        for (std::size_t i = 0; i < drill.with.size(); ++i) {
            if (drill.with[i].size() != most)
                return fail(table, "every place needs as many other strings as the first");
            if (std::count(drill.places.begin(), drill.places.end(), drill.places[i]) > 1 && most > 0)
                return fail(table, "a place of several strings may be asked once; use sets for more");
        }
    }

    void checkCare(const toml::table& table, const Drill& drill) {
        const toml::node* rest = table.get("rest_s");
        if (isDemanding(drill) && drill.rest.value < 60.0)
            fail(rest ? *rest : table,
                 "'rest_s' must be at least 60 where a bend is a full step or wider: the hand needs a minute after a "
                 "set");
        if (drillLength(drill).value > longestDrill)
            fail(table, fmt::format("the drill lasts {:.1f} minutes: at most {:g}; fewer places, sets or tries",
                                    drillLength(drill).value / 60.0, longestDrill / 60.0));
    }
};

}  // namespace

Result<Drill> drillIn(const toml::table& table, std::string_view fileName) {
    DrillReader reader(fileName);
    Drill drill = reader.read(table);
    if (reader.failure) return *reader.failure;
    return drill;
}

Result<Drill> parseDrill(std::string_view toml, std::string_view fileName) {
    const auto table = tomlTable(toml, fileName);
    if (!table) return table.error();
    return drillIn(*table, fileName);
}

Result<Drill> readDrillFile(const std::filesystem::path& path) {
    const auto text = readTextFile(path, largestTomlFile, "a drill file");
    if (!text) return text.error();
    return parseDrill(*text, path.string());
}

std::string drillAsToml(const Drill& drill) {
    toml::array steps, places;
    for (const DrillStep& step : drill.steps) {
        toml::table table{{"gesture", gestureName(step.gesture)}};
        if (kindOf(step.gesture).course != Course::stands) {
            table.insert("from", step.fromSemitones);
            table.insert("to", step.toSemitones);
        }
        if (step.fretOffset != 0) table.insert("offset", step.fretOffset);
        toml::array others;
        for (const StringStep& other : step.with)
            others.push_back(toml::table{{"from", other.fromSemitones}, {"to", other.toSemitones}});
        if (!others.empty()) table.insert("with", std::move(others));
        steps.push_back(std::move(table));
    }
    for (std::size_t i = 0; i < drill.places.size();) {
        toml::array frets;
        const int string = drill.places[i].string;
        if (i < drill.with.size()) {
            toml::array others;
            for (const NeckPlace other : drill.with[i])
                others.push_back(toml::table{{"string", other.string}, {"frets", toml::array{other.fret}}});
            frets.push_back(drill.places[i++].fret);
            places.push_back(toml::table{{"string", string}, {"frets", std::move(frets)}, {"with", std::move(others)}});
            continue;
        }
        for (; i < drill.places.size() && drill.places[i].string == string; ++i) frets.push_back(drill.places[i].fret);
        places.push_back(toml::table{{"string", string}, {"frets", std::move(frets)}});
    }
    toml::table table{{"name", drill.name},
                      {"trains", drill.trains},
                      {"how", drill.how},
                      {"meanwhile", drill.meanwhile},
                      {"subject", subjectNames[static_cast<std::size_t>(drill.subject)]},
                      {"tries", drill.tries},
                      {"sets", drill.sets},
                      {"rest_s", drill.rest.value},
                      {"guided", drill.guidedTries},
                      {"last_set_by_ear", drill.lastSetByEar},
                      {"step", std::move(steps)},
                      {"place", std::move(places)}};
    if (drill.target) table.insert("target", targetNames[static_cast<std::size_t>(*drill.target)]);
    std::ostringstream text;
    text << "# A drill of one's own. `landfall drills half-up --file` explains each line.\n\n" << table << "\n";
    return text.str();
}

OwnDrills ownDrills(const std::filesystem::path& folder) {
    OwnDrills own;
    for (const auto& file : filesIn(folder, ".toml", own.problems)) {
        auto drill = readDrillFile(file);
        if (drill) own.drills.push_back(std::move(*drill));
        else own.problems.push_back(drill.error().message);
    }
    return own;
}

Result<std::filesystem::path> ownDrillsFolder() {
    auto folder = dataFolder();
    if (!folder) return folder;
    return *folder / "drills";
}

Result<std::filesystem::path> keepDrill(const std::filesystem::path& folder, const Drill& drill) {
    std::error_code code;
    std::filesystem::create_directories(folder, code);
    if (code)
        return Error{Error::Code::unwritable,
                     fmt::format("{}: {}; the drill is played but not kept", folder.string(), code.message())};
    const auto file = folder / (fileNameFor(matchKey(drill.name)) + ".toml");
    if (auto kept = replaceFile(file, drillAsToml(drill)); !kept) return kept.error();
    return file;
}

const std::vector<Drill>& builtInDrills() {
    static const std::vector<Drill> drills = [] {
        std::vector<Drill> read;
        for (const BuiltInFile& file : builtInDrillFiles())
            if (auto drill = parseDrill(file.text, file.name)) read.push_back(std::move(*drill));
        return read;
    }();
    return drills;
}

std::string_view builtInDrillText(std::string_view name) {
    for (const BuiltInFile& file : builtInDrillFiles())
        if (const auto drill = parseDrill(file.text, file.name); drill && matchKey(drill->name) == matchKey(name))
            return file.text;
    return {};
}

Result<Drill> drillNamed(std::string_view name) {
    std::vector<std::string> names;
    for (const Drill& drill : builtInDrills()) {
        if (matchKey(drill.name) == matchKey(name)) return drill;
        names.push_back(drill.name);
    }
    if (const auto folder = ownDrillsFolder())
        for (Drill& drill : ownDrills(*folder).drills) {
            if (matchKey(drill.name) == matchKey(name)) return std::move(drill);
            names.push_back(drill.name);
        }
    auto nearest = nearestNames(name, names);
    if (nearest.empty()) nearest = names;
    return Error{Error::Code::notFound, fmt::format("no drill '{}': nearest are '{}'; `landfall drills` lists all",
                                                    printable(name), fmt::join(nearest, "', '"))};
}

Result<Drill> findDrill(std::string_view nameOrPath) {
    auto named = drillNamed(nameOrPath);
    if (named) return named;
    const bool looksLikePath = nameOrPath.ends_with(".toml") || nameOrPath.find('/') != std::string_view::npos;
    std::error_code code;
    if (looksLikePath || std::filesystem::is_regular_file(nameOrPath, code)) return readDrillFile(nameOrPath);
    return Error{Error::Code::notFound, named.error().message + ", a drill file ends in .toml"};
}

}  // namespace landfall
