// `landfall students` and `landfall guitars`: who practises here and on what; choosing, renaming, merging, archiving,
// deleting.
#include <chrono>
#include <thread>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/app/commands.h"
#include "src/formats/table.h"
#include "src/music/name_match.h"
#include "src/music/note_name.h"
#include "src/store/students.h"
#include "src/system/machine.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

constexpr const char* nobodyYet = "player";  // what a student is called until somebody says

Result<Settings> settingsNow() {
    const auto at = settingsFile();
    if (!at) return at.error();
    const auto loaded = loadSettings(*at);
    if (!loaded) return loaded.error();
    return loaded->settings;
}

// Only what `change` changes goes into the file.
template <typename Change>
Result<void> changeSettings(Change&& change) {
    const auto before = settingsNow();
    if (!before) return before.error();
    Settings after = *before;
    change(after);
    return saveChanges(*settingsFile(), *before, after);
}

// Whoever was to play under the old name goes on under the new one.
Result<void> renameInSettings(const std::string& from, const std::string& to) {
    return changeSettings([&](Settings& settings) {
        if (settings.student == from || (settings.student.empty() && from == nobodyYet)) settings.student = to;
    });
}

// To be changed; where there is no log yet it is made only if `makes` says so.
Result<Log> opened(const std::string& named, bool makes) {
    const auto file = logNamed(named);
    if (!file) return file.error();
    std::error_code ignored;
    return Log::open(*file, makes || std::filesystem::exists(*file, ignored) ? Log::Access::write : Log::Access::read);
}

Cell dayIn(const std::optional<CalendarTime>& time) { return time ? Cell(dayText(*time)) : Cell(); }

// None where no log was named and there is none yet.
template <typename Entry>
Result<std::vector<Entry>> entriesIn(const std::string& named, Result<std::vector<Entry>> (*read)(Log&)) {
    const auto file = logNamed(named);
    if (!file) return file.error();
    std::error_code ignored;
    if (named.empty() && !std::filesystem::exists(*file, ignored)) return std::vector<Entry>{};
    auto log = Log::open(*file, Log::Access::read);
    if (!log) return log.error();
    return read(*log);
}

int listStudents(const StudentsOptions& options) {
    const auto settings = settingsNow();
    if (!settings) return fail(settings.error());
    auto entries = entriesIn(options.log, studentEntries);
    if (!entries) return fail(entries.error());
    // Who plays next is there from the start.
    const std::string next = settings->student.empty() ? nobodyYet : settings->student;
    if (std::ranges::none_of(*entries, [&](const StudentEntry& each) { return each.student.name == next; }))
        entries->insert(entries->begin(), {{{}, next, false}, 0, {}});
    if (options.json) {
        Table table{{"uuid", "name", "archived", "plays_next", "sittings", "last_sitting"}, {}};
        for (const auto& [student, sittings, last] : *entries)
            table.rows.push_back({student.uuid.empty() ? Cell() : Cell(student.uuid), student.name, student.archived,
                                  student.name == next, std::int64_t{sittings}, last ? Cell(utcText(*last)) : Cell()});
        fmt::print("{}", toJson({{"students", table}}));
        return 0;
    }
    Table table{{"student", "sittings", "last", "", "uuid"}, {}};
    for (const auto& [student, sittings, last] : *entries)
        table.rows.push_back({student.name, std::int64_t{sittings}, dayIn(last),
                              std::string(student.archived       ? "archived"
                                          : student.name == next ? "plays next"
                                                                 : ""),
                              student.uuid.empty() ? Cell() : Cell(student.uuid.substr(0, 8))});
    fmt::print("{}", toColumns(table));
    return 0;
}

int use(Log& log, const StudentsOptions& options) {
    auto student = findStudent(log, options.who);
    if (!student) return fail(student.error());
    if (student->archived) {
        student->archived = false;
        if (const auto done = log.change(*student); !done) return fail(done.error());
    }
    if (const auto kept = changeSettings([&](Settings& settings) { settings.student = student->name; }); !kept)
        return fail(kept.error());
    fmt::print("The next tries are {}'s.\n", printable(student->name));
    return 0;
}

// Before there is a second one, the first gets a name.
int add(Log& log, const StudentsOptions& options) {
    if (const auto free = checkNewName(log, options.who); !free) return fail(free.error());
    if (auto first = findStudent(log, nobodyYet); first)
        if (const auto asked = askNameOnce(log, *first); !asked) return fail(asked.error());
    if (const auto free = checkNewName(log, options.who); !free) return fail(free.error());
    const auto made = log.addStudent(options.who);
    if (!made) return fail(made.error());
    fmt::print("{} is in the log. `landfall students use '{}'` makes the next tries theirs.\n", printable(made->name),
               printable(made->name));
    return 0;
}

Result<void> rename(Log& log, Student& student, const std::string& name) {
    // Upper and lower case of the own name may change.
    if (matchKey(name) != matchKey(student.name))
        if (const auto free = checkNewName(log, name); !free) return free.error();
    const std::string before = std::exchange(student.name, name);
    if (const auto done = log.change(student); !done) return done.error();
    return renameInSettings(before, name);
}

int change(Log& log, const StudentsOptions& options) {
    auto student = findStudent(log, options.who);
    if (!student) return fail(student.error());
    const std::string before = printable(student->name);
    if (options.what == StudentsOptions::Do::rename) {
        if (const auto done = rename(log, *student, options.second); !done) return fail(done.error());
        fmt::print("{} is {} now.\n", before, printable(student->name));
        return 0;
    }
    student->archived = options.what == StudentsOptions::Do::archive;
    if (const auto done = log.change(*student); !done) return fail(done.error());
    fmt::print("{}\n", student->archived ? before + " is archived: nothing is lost, and the next try brings them back."
                                         : before + " is back on the list.");
    return 0;
}

int unasked(const std::string& what) {
    return fail({Error::Code::badInput, what + " cannot be undone, and nobody is there to ask: add --sure"});
}

int merge(Log& log, const StudentsOptions& options) {
    const auto from = findStudent(log, options.who), into = findStudent(log, options.second);
    if (!from) return fail(from.error());
    if (!into) return fail(into.error());
    const auto share = shareOf(log, *from);
    if (!share) return fail(share.error());
    const std::string what =
        fmt::format("what {} played is {}'s ({})", printable(from->name), printable(into->name), wordsOf(*share, ", "));
    if (!options.sure && !inputIsTerminal()) return unasked("merging two students");
    if (!options.sure
        && answerTo(fmt::format("After this {}. It cannot be undone. Write yes to do it: ", what)) != "yes") {
        fmt::print("Nothing is changed.\n");
        return 1;
    }
    if (const auto done = mergeStudents(log, *from, *into); !done) return fail(done.error());
    if (const auto kept = renameInSettings(from->name, into->name); !kept) return fail(kept.error());
    fmt::print("Now {}.\n", what);
    return 0;
}

int remove(Log& log, const StudentsOptions& options) {
    const auto student = findStudent(log, options.who);
    if (!student) return fail(student.error());
    const auto share = shareOf(log, *student);
    if (!share) return fail(share.error());
    const std::string name = printable(student->name);
    if (!options.sure && !inputIsTerminal()) return unasked("deleting a student");
    if (!options.sure) {
        fmt::print(
            "{}, with {} and {}, would be deleted for ever. Copies of the log and files that were sent stay as "
            "they are. `landfall export` keeps all of it in one file.\n",
            name, wordsOf(*share, " with "), soundsOf(share->takes));
        if (answerTo("Write yes to go on: ") != "yes" || answerTo("To delete it, write the student's name: ") != name) {
            fmt::print("Nothing is deleted.\n");
            return 1;
        }
    }
    const auto gone = removeStudent(log, *student);
    if (!gone) return fail(gone.error());
    const auto kept = changeSettings([&](Settings& settings) {
        if (settings.student == student->name) settings.student.clear();
    });
    fmt::print("{} is deleted: {}, {}.\n", name, wordsOf(*gone, ", "), soundsOf(gone->takes - gone->takesLeft));
    if (!kept) return fail(kept.error());
    const auto left = leftOf(*gone, log);
    return left ? fail(*left) : 0;
}

Table guitarsTable(const std::vector<GuitarEntry>& entries, const std::string& next) {
    const auto told = [](double mm) { return mm > 0.0 ? Cell(mm) : Cell(); };
    Table table{{"uuid", "name", "archived", "is_next", "sittings", "last_sitting", "tuning", "about", "gauges_inch",
                 "plain_strings", "scale_mm", "radius_mm", "action_mm"},
                {}};
    for (const auto& [uuid, guitar, archived, sittings, last] : entries)
        table.rows.push_back({uuid.empty() ? Cell() : Cell(uuid), guitar.name, archived, guitar.name == next,
                              std::int64_t{sittings}, last ? Cell(utcText(*last)) : Cell(),
                              tuningName(guitar.openStrings), describeGuitar(guitar),
                              fmt::format("{}", fmt::join(guitar.gaugesInch, " ")), std::int64_t{guitar.plainStrings},
                              guitar.scaleMm, told(guitar.radiusMm), told(guitar.actionMm)});
    return table;
}

int listGuitars(const GuitarsOptions& options) {
    const auto settings = settingsNow();
    if (!settings) return fail(settings.error());
    auto entries = entriesIn(options.log, guitarEntries);
    if (!entries) return fail(entries.error());
    const std::string& next = settings->guitar.name;
    if (std::ranges::none_of(*entries, [&](const GuitarEntry& each) { return each.guitar.name == next; }))
        entries->insert(entries->begin(), {.uuid = {}, .guitar = settings->guitar, .sittings = 0, .last = {}});
    Table table{{"guitar", "sittings", "last", "", "how it was"}, {}};
    for (const auto& [uuid, guitar, archived, sittings, last] : *entries)
        table.rows.push_back({guitar.name, std::int64_t{sittings}, dayIn(last),
                              std::string(archived              ? "archived"
                                          : guitar.name == next ? "played next"
                                                                : ""),
                              fmt::format("{}; {}", describeGuitar(guitar), describeSetUp(guitar))});
    if (options.json) fmt::print("{}", toJson({{"guitars", guitarsTable(*entries, next)}}));
    else fmt::print("{}", toColumns(table));
    return 0;
}

int useGuitar(Log& log, const std::string& name) {
    const auto entries = guitarEntries(log);
    if (!entries) return fail(entries.error());
    for (const GuitarEntry& each : *entries)
        if (matchKey(each.guitar.name) == matchKey(name)) {  // the latest of that name
            const Guitar& guitar = each.guitar;
            if (const auto good = checkGuitar(guitar); !good) return fail(good.error());
            if (const auto kept = changeSettings([&](Settings& settings) { settings.guitar = guitar; }); !kept)
                return fail(kept.error());
            fmt::print("Next is {}: {}.\n", printable(guitar.name), describeGuitar(guitar));
            return 0;
        }
    return fail(archiveGuitar(log, name, false).error());  // says which there are
}

// What the options say of a guitar, over what it was.
Result<Guitar> changed(Guitar guitar, const GuitarsOptions& options) {
    if (!options.tuning.empty()) {
        auto strings = parseTuning(options.tuning);
        if (!strings) return strings.error();
        guitar.openStrings = std::move(*strings);
    }
    if (!options.gauges.empty()) guitar.gaugesInch = options.gauges;
    if (!options.third.empty()) guitar.plainStrings = options.third == "wound" ? 2 : 3;
    if (!options.plays.empty()) guitar.leftHanded = options.plays == "left";
    if (options.a4) guitar.a4 = Hertz(*options.a4);
    guitar.capo = options.capo.value_or(guitar.capo);
    guitar.highestFret = options.frets.value_or(guitar.highestFret);
    guitar.scaleMm = options.scale.value_or(guitar.scaleMm);
    guitar.radiusMm = options.radius.value_or(guitar.radiusMm);
    guitar.actionMm = options.action.value_or(guitar.actionMm);
    if (static_cast<int>(guitar.gaugesInch.size()) > guitar.stringCount() && !options.gauges.empty())
        return Error{Error::Code::badInput, fmt::format("{} gauges for {} strings: give one for each string",
                                                        guitar.gaugesInch.size(), guitar.stringCount())};
    if (const auto good = checkGuitar(guitar); !good) return good.error();
    return guitar;
}

int addGuitar(Log& log, const GuitarsOptions& options) {
    const auto settings = settingsNow();
    const auto known = guitarEntries(log);
    if (!settings) return fail(settings.error());
    if (!known) return fail(known.error());
    if (matchKey(options.name).empty())
        return fail({Error::Code::badInput, fmt::format("'{}' is not a name: write letters or digits", options.name)});
    const auto isTaken = [&](const std::string& name) { return matchKey(name) == matchKey(options.name); };
    if (isTaken(settings->guitar.name)
        || std::ranges::any_of(*known, [&](const GuitarEntry& each) { return isTaken(each.guitar.name); }))
        return fail(
            {Error::Code::badInput, fmt::format("there is a guitar {} already: choose another name", options.name)});
    Guitar fresh = settings->guitar;
    fresh.name = options.name;
    fresh.stiffness.clear();
    const auto made = changed(std::move(fresh), options);
    if (!made) return fail(made.error());
    if (const auto kept = keepGuitar(log, *made); !kept) return fail(kept.error());
    fmt::print("{} is in the log: {}; {}. `landfall guitars use '{}'` takes it up.\n", printable(made->name),
               describeGuitar(*made), describeSetUp(*made), printable(made->name));
    return 0;
}

// As it is now: the settings know of the one in hand, the log of the others.
int changeGuitar(Log& log, const GuitarsOptions& options) {
    const auto settings = settingsNow();
    const auto known = guitarEntries(log);
    if (!settings) return fail(settings.error());
    if (!known) return fail(known.error());
    const bool inHand = matchKey(settings->guitar.name) == matchKey(options.name);
    const auto entry = std::ranges::find_if(
        *known, [&](const GuitarEntry& each) { return matchKey(each.guitar.name) == matchKey(options.name); });
    if (!inHand && entry == known->end()) return fail(archiveGuitar(log, options.name, false).error());
    const auto now = changed(inHand ? settings->guitar : entry->guitar, options);
    if (!now) return fail(now.error());
    if (const auto kept = keepGuitar(log, *now); !kept) return fail(kept.error());
    if (inHand)
        if (const auto kept = changeSettings([&](Settings& after) { after.guitar = *now; }); !kept)
            return fail(kept.error());
    fmt::print("{} is now: {}; {}. What was played on it keeps how it was.\n", printable(now->name),
               describeGuitar(*now), describeSetUp(*now));
    return 0;
}

// Under another name from now on, which another guitar may have where the two are one.
int nameGuitars(Log& log, const GuitarsOptions& options) {
    const bool merges = options.what == GuitarsOptions::Do::merge;
    const std::string before = printable(options.name), after = printable(options.to);
    if (merges && !options.sure) {
        if (!inputIsTerminal()) return unasked("merging two guitars");
        const std::string asked = fmt::format(
            "After this {} is {}, with all that was played on it. It cannot be undone. Write yes to do it: ", before,
            after);
        if (answerTo(asked) != "yes") {
            fmt::print("Nothing is changed.\n");
            return 1;
        }
    }
    const auto done = (merges ? mergeGuitars : renameGuitar)(log, options.name, options.to);
    if (!done) return fail(done.error());
    const auto kept = changeSettings([&](Settings& settings) {
        if (settings.guitar.name == options.name) settings.guitar.name = options.to;
    });
    if (!kept) return fail(kept.error());
    fmt::print("{} is {} now.\n", before, after);
    return 0;
}

int removeUnplayed(Log& log, const std::string& name) {
    if (const auto gone = removeGuitar(log, name); !gone) return fail(gone.error());
    fmt::print("{} is deleted: nothing was played on it.\n", printable(name));
    return 0;
}

}  // namespace

std::string answerTo(const std::string& question) {
    if (!inputIsTerminal()) return {};
    fmt::print("{}", question);
    std::fflush(stdout);
    for (;;) {
        if (const auto line = typedLine()) return *line;
        if (typingOver()) return {};
        std::this_thread::sleep_for(std::chrono::milliseconds(20));
    }
}

Result<void> askNameOnce(Log& log, Student& student) {
    const auto settings = settingsNow();
    if (!settings) return settings.error();
    if (student.name != nobodyYet || !settings->student.empty() || !inputIsTerminal()) return {};
    const std::string name =
        answerTo(fmt::format("What is the name of who has played so far (enter: {})? ", nobodyYet));
    if (!name.empty()) return rename(log, student, name);
    return changeSettings([](Settings& after) { after.student = nobodyYet; });
}

int runStudents(const StudentsOptions& options) {
    using Do = StudentsOptions::Do;
    if (options.what == Do::list) return listStudents(options);
    auto log = opened(options.log, options.what == Do::add);
    if (!log) return fail(log.error());
    switch (options.what) {
        case Do::use: return use(*log, options);
        case Do::add: return add(*log, options);
        case Do::merge: return merge(*log, options);
        case Do::remove: return remove(*log, options);
        default: return change(*log, options);
    }
}

int runGuitars(const GuitarsOptions& options) {
    using Do = GuitarsOptions::Do;
    if (options.what == Do::list) return listGuitars(options);
    auto log = opened(options.log, options.what == Do::add || options.what == Do::change);
    if (!log) return fail(log.error());
    if (options.what == Do::use) return useGuitar(*log, options.name);
    if (options.what == Do::add) return addGuitar(*log, options);
    if (options.what == Do::change) return changeGuitar(*log, options);
    if (options.what == Do::remove) return removeUnplayed(*log, options.name);
    const bool archives = options.what == Do::archive;
    if (options.what == Do::rename || options.what == Do::merge) return nameGuitars(*log, options);
    if (const auto changed = archiveGuitar(*log, options.name, archives); !changed) return fail(changed.error());
    fmt::print("{} is {}.\n", printable(options.name), archives ? "archived" : "listed again");
    return 0;
}

}  // namespace landfall
