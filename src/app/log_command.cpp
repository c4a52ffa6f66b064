// `landfall log`: lists the sittings, prints one, strikes a try and takes that back.
#include <algorithm>
#include <charconv>
#include <optional>
#include <string>
#include <vector>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/app/commands.h"
#include "src/app/sitting.h"
#include "src/formats/settings_file.h"
#include "src/formats/table.h"
#include "src/music/name_match.h"
#include "src/music/note_name.h"
#include "src/store/log.h"
#include "src/store/notes.h"
#include "src/store/students.h"
#include "src/store/totals.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

Cell centsCell(const std::optional<Cents>& cents) {
    if (!cents) return {};
    return cents->value;
}

// "12 of 18", of the tries that count.
std::string insideText(const GestureTally& tally) {
    return tally.counted > 0 ? fmt::format("{} of {}", tally.inside, tally.counted) : "–";
}

// Every figure, for --csv and --json.
const std::vector<std::string> figureColumns{
    "gesture", "tries",        "guided", "counted",    "median_miss_cents", "median_error_cents",
    "inside",  "share_inside", "lost",   "not_counted"};
std::vector<Cell> figuresOf(const GestureTally& tally) {
    return {std::string(gestureName(tally.gesture)),
            std::int64_t{tally.tries},
            std::int64_t{tally.guided},
            std::int64_t{tally.counted},
            centsCell(tally.typicalMiss),
            centsCell(tally.typicalError),
            std::int64_t{tally.inside},
            tally.counted > 0 ? Cell(tally.shareInside()) : Cell(),
            std::int64_t{tally.lost},
            std::int64_t{tally.notCounted}};
}

const std::vector<std::string> sittingColumns{"sitting", "started", "student",  "guitar",
                                              "tuning",  "input",   "software", "drills"};
std::vector<Cell> factsOf(const SittingSummary& summary) {
    const Sitting& sitting = summary.sitting;
    return {summary.id,
            utcText(sitting.started),
            sitting.student,
            sitting.guitar.name,
            tuningName(sitting.guitar.openStrings),
            sitting.input,
            sitting.software,
            fmt::format("{}", fmt::join(summary.drills, "; "))};
}

std::vector<Cell> joined(std::vector<Cell> first, std::vector<Cell> second) {
    first.insert(first.end(), second.begin(), second.end());
    return first;
}

Table figuresTable(const std::vector<GestureTally>& gestures) {
    Table table{figureColumns, {}};
    for (const GestureTally& tally : gestures) table.rows.push_back(figuresOf(tally));
    return table;
}

// A row for each gesture of each sitting.
Table sittingsTable(const std::vector<SittingSummary>& sittings) {
    Table table{sittingColumns, {}};
    table.columns.insert(table.columns.end(), figureColumns.begin(), figureColumns.end());
    for (const SittingSummary& one : sittings) {
        for (const GestureTally& tally : one.gestures) table.rows.push_back(joined(factsOf(one), figuresOf(tally)));
        if (one.gestures.empty()) table.rows.push_back(joined(factsOf(one), std::vector<Cell>(figureColumns.size())));
    }
    return table;
}

Table notesTable(const std::vector<KeptNote>& notes) {
    Table table{{"on", "written", "text", "uuid"}, {}};
    for (const KeptNote& note : notes)
        table.rows.push_back({subjectOf(note), utcText(note.written), note.text, note.uuid});
    return table;
}

void printNotes(const std::vector<KeptNote>& notes) {
    if (notes.empty()) return;
    Table table{{"note on", "written", ""}, {}};
    for (const KeptNote& note : notes) table.rows.push_back({subjectOf(note), localText(note.written), note.text});
    fmt::print("\n{}", toColumns(table));
}

int printSittings(Log& log, const LogOptions& options) {
    std::optional<std::string> student;
    std::vector<KeptNote> notes;
    if (!options.student.empty()) {
        const auto known = log.students();
        if (!known) return fail(known.error());
        std::vector<std::string> names;
        for (const Student& each : *known) {
            if (std::ranges::find(names, each.name) == names.end()) names.push_back(each.name);
            if (matchKey(each.name) != matchKey(options.student)) continue;
            student = each.name;
            const auto written = notesOf(log, each);
            if (!written) return fail(written.error());
            notes.insert(notes.end(), written->begin(), written->end());
        }
        if (!student && known->empty())
            return fail({Error::Code::notFound,
                         fmt::format("there is no student '{}' in the log yet: it is empty", options.student)});
        if (!student)
            return fail({Error::Code::notFound, fmt::format("there is no student '{}' in the log: it has {}",
                                                            options.student, fmt::join(names, ", "))});
    }
    const auto sittings = log.sittings(student);
    if (!sittings) return fail(sittings.error());
    if (options.csv) fmt::print("{}", toCsv(sittingsTable(*sittings)));
    else if (options.json) {
        std::vector<JsonMember> members{{"sittings", sittingsTable(*sittings)}};
        if (student) members.push_back({"notes", notesTable(notes)});
        fmt::print("{}", toJson(members));
    } else {
        Table table{{"sitting", "date", "student", "guitar", "gesture", "tries", "off by", "inside", "died", "drills"},
                    {}};
        for (const SittingSummary& one : *sittings) {
            std::vector<Cell> facts{one.id, localText(one.sitting.started), one.sitting.student,
                                    one.sitting.guitar.name};
            std::string drills = fmt::format("{}", fmt::join(one.drills, ", "));
            std::vector<GestureTally> gestures = one.gestures;
            if (gestures.empty()) gestures.push_back({});
            for (const GestureTally& tally : gestures) {
                const std::string gesture =
                    tally.tries + tally.notCounted > 0 ? std::string(gestureName(tally.gesture)) : "–";
                table.rows.push_back(joined(facts, {gesture, std::int64_t{tally.tries}, centsCell(tally.typicalMiss),
                                                    insideText(tally), std::int64_t{tally.lost}, drills}));
                facts.assign(facts.size(), std::string());  // said once
                drills.clear();
            }
        }
        if (table.rows.empty()) fmt::print("The log is empty. It starts with your first try: `landfall practise`.\n");
        else
            fmt::print(
                "{}\n\"off by\": half of the first stops were further from the target, half nearer, in cents (100 "
                "cents are one "
                "fret). `landfall log SITTING` shows one, with --csv or --json everything in it.\n",
                toColumns(table));
        printNotes(notes);
    }
    return 0;
}

std::string remarks(const LoggedTry& one) {
    if (one.struck) return "dropped";
    return one.guided ? "guided" : "";
}

std::string triedPlace(const LoggedTry& one, const Guitar& guitar) {
    const auto& place = one.landing.move.place;
    if (place && hasPlace(guitar, *place)) return placeName(guitar, *place);
    return fmt::format("{} to {}", noteName(one.landing.move.from), noteName(one.landing.move.to));
}

int printSitting(Log& log, const LogOptions& options) {
    std::int64_t id = 0;
    if (options.sitting == "last") {
        const auto last = log.lastSitting();
        if (!last) return fail(last.error());
        if (!*last) return fail({Error::Code::notFound, "the log is empty: there is no last sitting"});
        id = **last;
    } else {
        const char* const end = options.sitting.data() + options.sitting.size();
        if (const auto [next, bad] = std::from_chars(options.sitting.data(), end, id);
            bad != std::errc() || next != end)
            return wrongUsage(
                {Error::Code::badInput, fmt::format("'{}' is not a sitting; write its number, or last (`landfall log` "
                                                    "lists them, with --student NAME one student's)",
                                                    options.sitting)});
    }
    const auto summary = log.sitting(id);
    if (!summary) return fail(summary.error());
    auto tries = log.tries(id);
    if (!tries) return fail(tries.error());
    const auto notes = notesOn(log, id);
    if (!notes) return fail(notes.error());
    for (LoggedTry& one : *tries) one.takeFile = log.takeOf(one).string();
    if (options.csv) {
        fmt::print("{}", toCsv(tableOf(*tries)));
        return 0;
    }
    if (options.json) {
        fmt::print("{}", toJson({{"sitting", Table{sittingColumns, {factsOf(*summary)}}, true},
                                 {"tries", tableOf(*tries)},
                                 {"totals", figuresTable(tallyOf(*tries).gestures())},
                                 {"notes", notesTable(*notes)}}));
        return 0;
    }
    const Sitting& sitting = summary->sitting;
    fmt::print("Sitting {} · {} · {} · {}; {}\n\n", id, localText(sitting.started), printable(sitting.student),
               describeGuitar(sitting.guitar), describeSetUp(sitting.guitar));
    Table table{{"try", "drill", "gesture", "place", "first stop", "landing", "", "says"}, {}};
    for (const LoggedTry& one : *tries)
        table.rows.push_back({fmt::format("{}.{}", id, one.number), one.drill,
                              std::string(gestureName(one.landing.move.gesture)), triedPlace(one, sitting.guitar),
                              centsCell(one.landing.firstStopError), centsCell(one.landing.landingError), remarks(one),
                              one.landing.sentence});
    fmt::print("{}\n", toColumns(table));
    Table totals{{"gesture", "tries", "off by", "over/under", "inside", "died", "not counted"}, {}};
    for (const GestureTally& tally : tallyOf(*tries).gestures())
        totals.rows.push_back({std::string(gestureName(tally.gesture)), std::int64_t{tally.tries},
                               centsCell(tally.typicalMiss), centsCell(tally.typicalError), insideText(tally),
                               std::int64_t{tally.lost}, std::int64_t{tally.notCounted}});
    fmt::print(
        "{}\nIn cents (100 are one fret), medians of the first stops: + over, - under. Dropped tries are not counted, "
        "nor "
        "is what had no clear pitch; guided tries only where there are fewer than three others. Slides count by "
        "fret.\n",
        toColumns(totals));
    printNotes(*notes);
    return 0;
}

// "3.12", "3"; nothing where it is neither.
struct Named {
    std::int64_t sitting = 0;
    int number = 0;
};
std::optional<Named> namedIn(const std::string& which) {
    Named found;
    const char* const end = which.data() + which.size();
    const auto [dot, bad] = std::from_chars(which.data(), end, found.sitting);
    if (bad != std::errc() || found.sitting < 1) return {};
    if (dot == end) return found;
    const auto number = std::from_chars(dot + 1, end, found.number);
    if (*dot != '.' || number.ec != std::errc() || number.ptr != end || found.number < 1) return {};
    return found;
}

int keepNoteOf(Log& log, const std::string& which, const std::string& text) {
    KeptNote note{.text = text};
    Student student;
    if (const auto named = namedIn(which)) {
        note.sitting = named->sitting;
        note.number = named->number;
        const auto sitting = log.sitting(named->sitting);
        if (!sitting) return fail(sitting.error());
        student = {sitting->sitting.studentUuid, sitting->sitting.student};
    } else {
        auto found = findStudent(log, which);
        if (!found) return fail(found.error());
        student = std::move(*found);
    }
    if (text.empty()) return wrongUsage({Error::Code::badInput, "the note has no text: write it behind what it is on"});
    if (const auto kept = keepNote(log, student, note); !kept) return fail(kept.error());
    fmt::print("Kept, on {} of {}.\n", subjectOf(note), printable(student.name));
    return 0;
}

int strike(Log& log, const std::string& which, bool struck) {
    const auto named = namedIn(which);
    if (!named || named->number == 0)
        return wrongUsage(
            {Error::Code::badInput,
             fmt::format("'{}' is not a try; write SITTING.NUMBER, such as 3.12 (`landfall log SITTING` lists them)",
                         which)});
    if (const auto done = log.setStruck(named->sitting, named->number, struck); !done) return fail(done.error());
    fmt::print("Try {} {}.\n", which, struck ? "is dropped: it stays in the log but is not counted" : "counts again");
    return 0;
}

}  // namespace

Result<std::filesystem::path> logNamed(const std::string& named) {
    const auto settingsAt = settingsFile();
    if (!settingsAt) return settingsAt.error();
    const auto loaded = loadSettings(*settingsAt);
    if (!loaded) return loaded.error();
    for (const std::string& warning : loaded->warnings) fmt::print(stderr, "landfall: {}\n", warning);
    return chosenLogFile(loaded->settings, named);
}

int runLogWhere(const std::string& log) {
    const auto file = logNamed(log);
    if (!file) return fail(file.error());
    fmt::print("{}\n", printable(std::filesystem::absolute(*file).string()));
    return 0;
}

int runLogCheck(const std::string& log) {
    const auto file = logNamed(log);
    if (!file) return fail(file.error());
    std::error_code ignored;
    if (!std::filesystem::exists(*file, ignored))
        return fail({Error::Code::notFound,
                     fmt::format("there is no log {} yet: it begins with the first try", file->string())});
    auto opened = Log::open(*file, Log::Access::write);
    if (!opened) return fail(opened.error());
    const auto found = opened->check();
    if (!found) return fail(found.error());
    fmt::print("{}\nRead: students {}, sittings {}, tries {}, curves {}.\n", printable(file->string()), found->students,
               found->sittings, found->tries, found->curves);
    if (found->missingTakes > 0) fmt::print("Kept sounds that are no longer there: {}.\n", found->missingTakes);
    for (const std::string& line : found->mended) fmt::print("mended: {}\n", printable(line));
    for (const std::string& line : found->wrong) fmt::print("wrong: {}\n", printable(line));
    if (found->wrong.empty()) fmt::print("Nothing in it is damaged.\n");
    return found->wrong.empty() ? 0 : 1;
}

int runLogBackup(const std::string& log, const std::string& to) {
    const auto file = logNamed(log);
    if (!file) return fail(file.error());
    auto opened = Log::open(*file, Log::Access::read);
    if (!opened) return fail(opened.error());
    if (const auto copied = opened->backup(to); !copied) return fail(copied.error());
    fmt::print("The log is copied to {}. Sounds that were kept stay where they are.\n", printable(to));
    return 0;
}

int runLog(const LogOptions& options) {
    const auto file = logNamed(options.log);
    if (!file) return fail(file.error());
    const bool changes = !options.strike.empty() || !options.restore.empty() || !options.note.empty();
    std::error_code ignored;
    if (options.log.empty() && !changes && options.sitting.empty() && options.student.empty()
        && !std::filesystem::exists(*file, ignored)) {
        if (options.csv) fmt::print("{}", toCsv(sittingsTable({})));
        else if (options.json) fmt::print("{}", toJson({{"sittings", sittingsTable({})}}));
        else
            fmt::print("There is no log yet. It starts with your first try (`landfall practise`), in {}.\n",
                       printable(file->string()));
        return 0;
    }
    auto opened = changes && std::filesystem::exists(*file, ignored) ? Log::open(*file, Log::Access::write)
                                                                     : Log::open(*file, Log::Access::read);
    if (!opened) return fail(opened.error());
    if (!options.note.empty()) return keepNoteOf(*opened, options.note.front(), options.note.back());
    if (changes)
        return strike(*opened, options.strike.empty() ? options.restore : options.strike, !options.strike.empty());
    return options.sitting.empty() ? printSittings(*opened, options) : printSitting(*opened, options);
}

}  // namespace landfall
