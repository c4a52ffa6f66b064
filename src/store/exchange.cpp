#include "src/store/exchange.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <iterator>
#include <map>
#include <set>
#include <system_error>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/music/name_match.h"
#include "src/store/log_schema.h"
#include "src/store/notes.h"
#include "src/store/sql.h"
#include "src/store/whole_file.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

constexpr int exchangeId = 0x4C4E4458;  // "LNDX" in the file's header
constexpr int firstVersion = 5;         // of the log's schema, which numbers these files too
constexpr int lessonsSince = 6, notesSince = 7, setUpSince = 8;

// A stranger's file may say anything. A student who practises an hour a day has some 200 tries and 1 MB a day, sounds
// included 40 MB; these bounds are years of it.
constexpr std::uintmax_t mostFileBytes = 32ull << 30;
constexpr std::size_t mostText = 20000, mostContent = 1 << 20, mostCurve = 100000, mostName = 1000,
                      mostNote = 4 * longestNote;  // bytes
constexpr double mostReal = 1e9;
constexpr std::int64_t mostTries = 2'000'000, mostSittings = 100'000, mostOthers = 10'000;
constexpr std::int64_t year2100 = 4'102'444'800'000;  // ms
constexpr std::size_t mostConflicts = 20;

constexpr const char* guitarColumns =
    "name, tuning, capo, highest_fret, left_handed, a4_hz, gauges_inch, plain_strings, scale_mm, radius_mm, action_mm";
// Of an older file; what it does not tell is 0.
constexpr const char* guitarColumnsBefore =
    "name, tuning, capo, highest_fret, left_handed, a4_hz, gauges_inch, plain_strings, scale_mm, 0.0, 0.0";
constexpr int guitarColumnCount = 11;

// The take stands in a table of its own.
bool isSent(const TryColumn& column, int version) {
    return column.sinceSchema <= version && std::string_view(column.name) != "take_file";
}

std::string sentColumns(int version) {
    std::vector<std::string> names;
    for (const TryColumn& column : tryColumns())
        if (isSent(column, version)) names.emplace_back(column.name);
    return fmt::format("{}", fmt::join(names, ", "));
}

std::string places(std::size_t count) {
    return fmt::format("{}", fmt::join(std::vector<std::string>(count, "?"), ", "));
}

// A file's tables say these words, or it is refused.
std::vector<std::string> exchangeSchema(int version) {
    std::string tries = "CREATE TABLE try(sitting INTEGER NOT NULL, task INTEGER";
    for (const TryColumn& column : tryColumns())
        if (isSent(column, version)) tries += fmt::format(", {} {}", column.name, column.sqlType);
    tries += ", PRIMARY KEY(sitting, number)) STRICT";
    std::vector<std::string> schema;
    schema.emplace_back("CREATE TABLE student(uuid TEXT NOT NULL, name TEXT NOT NULL) STRICT");
    schema.push_back(fmt::format(
        "CREATE TABLE guitar(uuid TEXT PRIMARY KEY, name TEXT NOT NULL, tuning TEXT NOT NULL, capo INTEGER NOT "
        "NULL, highest_fret INTEGER NOT NULL, left_handed INTEGER NOT NULL, a4_hz REAL NOT NULL, gauges_inch "
        "TEXT, plain_strings INTEGER, scale_mm REAL{}) STRICT",
        version >= setUpSince ? ", radius_mm REAL NOT NULL, action_mm REAL NOT NULL" : ""));
    schema.emplace_back(
        "CREATE TABLE task(id INTEGER PRIMARY KEY, hash TEXT NOT NULL, kind TEXT NOT NULL, name TEXT NOT NULL, "
        "content TEXT NOT NULL) STRICT");
    schema.emplace_back(
        "CREATE TABLE sitting(token INTEGER PRIMARY KEY, guitar TEXT NOT NULL, started_ms INTEGER NOT NULL, "
        "software TEXT NOT NULL, input TEXT NOT NULL, stiffness TEXT NOT NULL) STRICT");
    schema.push_back(tries);
    schema.emplace_back(
        "CREATE TABLE curve(sitting INTEGER NOT NULL, number INTEGER NOT NULL, points BLOB NOT NULL, PRIMARY "
        "KEY(sitting, number)) STRICT");
    schema.emplace_back(
        "CREATE TABLE take(sitting INTEGER NOT NULL, number INTEGER NOT NULL, flac BLOB NOT NULL, PRIMARY "
        "KEY(sitting, number)) STRICT");
    if (version >= lessonsSince)
        schema.emplace_back(
            "CREATE TABLE lesson(title TEXT PRIMARY KEY, received_ms INTEGER NOT NULL, content TEXT NOT NULL, put_away "
            "INTEGER NOT NULL) STRICT");
    if (version >= notesSince)
        schema.emplace_back(
            "CREATE TABLE note(uuid TEXT PRIMARY KEY, sitting INTEGER, number INTEGER, written_ms INTEGER NOT NULL, "
            "text TEXT NOT NULL) STRICT");
    return schema;
}

// Sittings (s) of a student, from a time on; two values are bound.
constexpr const char* theseSittings =
    "sitting s JOIN student p ON p.id = s.student WHERE p.uuid = ? AND s.started_ms >= ?";

std::int64_t since(const std::optional<CalendarTime>& time) {
    return time ? static_cast<std::int64_t>(time->time_since_epoch().count()) : 0;
}

std::string bytesOf(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

// Notes (n) of a student: on lessons whenever they were held, else on the sittings from a time on; two values are bound.
constexpr const char* theseNotes =
    "note n JOIN student p ON p.id = n.student LEFT JOIN sitting s ON s.id = n.sitting WHERE p.uuid = ? AND (n.sitting "
    "IS NULL OR s.started_ms >= ?)";

// The file of a try's take, where it is there and can be sent.
std::optional<std::uintmax_t> sendableTake(const std::filesystem::path& take) {
    std::error_code missing;
    if (take.extension() != ".flac" || !std::filesystem::is_regular_file(take, missing)) return {};
    const auto bytes = std::filesystem::file_size(take, missing);
    return missing || bytes > mostTakeBytes ? std::nullopt : std::optional(bytes);
}

class Export {
public:
    Export(Connection& log, const std::filesystem::path& beside, const Student& whose, std::int64_t from)
        : sql(log), folder(beside), student(whose), begin(from) {}

    // In one reading of the log, so that all of it is of one moment.
    void write(Connection& out, bool takes) {
        const int version = Log::schemaVersion;
        for (const std::string& table : exchangeSchema(version)) out.run(table);
        Statement who(out.handle(), "INSERT INTO student VALUES(?, ?)");
        who.bind(student.uuid).bind(student.name).finish();
        copy(out, "guitar", 1 + guitarColumnCount,
             fmt::format("SELECT uuid, {} FROM guitar WHERE id IN (SELECT s.guitar FROM {})", guitarColumns,
                         theseSittings));
        copy(out, "task", 5,
             fmt::format("SELECT id, hash, kind, name, content FROM task WHERE id IN (SELECT t.task FROM try t JOIN {} "
                         "AND t.sitting = s.id)",
                         theseSittings));
        copy(out, "sitting", 6,
             fmt::format("SELECT s.token, g.uuid, s.started_ms, s.software, s.input, s.stiffness FROM guitar g JOIN {} "
                         "AND g.id = s.guitar",
                         theseSittings));
        const auto columns = static_cast<std::size_t>(
            std::ranges::count_if(tryColumns(), [&](const TryColumn& each) { return isSent(each, version); }));
        copy(out, "try", static_cast<int>(columns) + 2,
             fmt::format("SELECT s.token, t.task, {} FROM try t JOIN {} AND t.sitting = s.id", sentColumns(version),
                         theseSittings));
        copy(out, "curve", 3,
             fmt::format("SELECT s.token, c.number, c.points FROM curve c JOIN {} AND c.sitting = s.id", theseSittings),
             true);
        copyLessons(out);
        copy(out, "note", 5, fmt::format("SELECT n.uuid, s.token, n.number, n.written_ms, n.text FROM {}", theseNotes));
        if (takes) copyTakes(out);
    }

    template <typename Work>
    void eachTake(Work&& work) {
        Statement row(sql.handle(), fmt::format("SELECT s.token, t.number, t.take_file FROM try t JOIN {} AND "
                                                "t.sitting = s.id AND t.take_file <> ''",
                                                theseSittings));
        bind(row);
        while (row.next()) work(row.whole(0), row.whole(1), folder / row.text(2));
    }

    std::int64_t count(const std::string& what) {
        Statement row(sql.handle(), "SELECT count(*) FROM " + what);
        bind(row);
        return row.next() ? row.whole(0) : 0;
    }
    void bind(Statement& row) { row.bind(student.uuid).bind(begin); }

private:
    void copy(Connection& out, const std::string& table, int columns, const std::string& query,
              bool bytesLast = false) {
        Statement row(sql.handle(), query);
        bind(row);
        Statement add(out.handle(),
                      fmt::format("INSERT INTO {} VALUES({})", table, places(static_cast<std::size_t>(columns))));
        while (row.next()) {
            add.again();
            for (int column = 0; column < columns; ++column)
                if (bytesLast && column == columns - 1) add.bindBytes(row.bytes(column));
                else add.bind(row.cell(column));
            add.finish();
        }
    }

    // Those still being worked at too, whenever they were given.
    void copyLessons(Connection& out) {
        Statement row(
            sql.handle(),
            "SELECT title, received_ms, content, put_away FROM lesson WHERE student = (SELECT id FROM student "
            "WHERE uuid = ?)");
        row.bind(student.uuid);
        Statement add(out.handle(), "INSERT INTO lesson VALUES(?, ?, ?, ?)");
        while (row.next()) {
            add.again();
            for (int column = 0; column < 4; ++column) add.bind(row.cell(column));
            add.finish();
        }
    }

    void copyTakes(Connection& out) {
        Statement add(out.handle(), "INSERT INTO take VALUES(?, ?, ?)");
        eachTake([&](std::int64_t token, std::int64_t number, const std::filesystem::path& take) {
            if (!sendableTake(take)) return;
            add.again();
            add.bind(token).bind(number).bindBytes(bytesOf(take)).finish();
        });
    }

    Connection& sql;
    const std::filesystem::path& folder;
    const Student& student;
    std::int64_t begin;
};

// The file is not what an export writes.
struct Refused {
    Error error;
};

// A stranger's file, and what may be read of it. Throws Refused for anything that an export would not have written.
class Arrived {
public:
    explicit Arrived(const std::filesystem::path& given) : file(given) {
        std::error_code missing;
        if (!std::filesystem::is_regular_file(file, missing))
            throw Refused{{Error::Code::notFound, fmt::format("there is no file {}", file.string())}};
        if (std::filesystem::file_size(file, missing) > mostFileBytes) refuse("is too large");
        reading([&] {
            sql.openForeign(file);
            if (sql.number("PRAGMA application_id") != exchangeId) refuse("is not a file that landfall export wrote");
            version = static_cast<int>(sql.number("PRAGMA user_version"));
            if (version > Log::schemaVersion)
                throw Refused{
                    {Error::Code::tooNew,
                     fmt::format("{} was written by a newer Landfall ({}, this one knows {}): update Landfall",
                                 file.string(), version, Log::schemaVersion)}};
            if (version < firstVersion) refuse("is not a file that landfall export wrote");
            checkSchema();
            if (sql.text("PRAGMA quick_check(1)") != "ok") refuse("is damaged");
            for (const auto& [table, most] :
                 std::initializer_list<std::pair<const char*, std::int64_t>>{{"student", 1},
                                                                             {"guitar", mostOthers},
                                                                             {"task", mostOthers},
                                                                             {"sitting", mostSittings},
                                                                             {"try", mostTries},
                                                                             {"curve", mostTries},
                                                                             {"take", mostTries},
                                                                             {"lesson", mostOthers},
                                                                             {"note", mostSittings}})
                if (has(table) && sql.number(fmt::format("SELECT count(*) FROM {}", table)) > most)
                    refuse(fmt::format("has more rows of '{}' than anybody can play", table));
        });
    }

    [[noreturn]] void refuse(const std::string& why) const {
        throw Refused{{Error::Code::badInput,
                       fmt::format("{} {}: nothing of it is taken in; ask for the file again", file.string(), why)}};
    }
    // A text of the file, as short as ours are.
    std::string text(Statement& row, int column, const char* what, std::size_t most = mostText) const {
        std::string found = row.text(column);
        if (found.size() > most || found.find('\0') != std::string::npos)
            refuse(fmt::format("has a value for {} that cannot be", what));
        return found;
    }
    // RFC 4122 in lower case, as this program writes them.
    std::string uuid(Statement& row, int column) const {
        std::string found = text(row, column, "a UUID");
        bool good = found.size() == 36;
        for (std::size_t i = 0; good && i < found.size(); ++i)
            good = i == 8 || i == 13 || i == 18 || i == 23
                       ? found[i] == '-'
                       : (found[i] >= '0' && found[i] <= '9') || (found[i] >= 'a' && found[i] <= 'f');
        if (!good) refuse("has a UUID that is none");
        return found;
    }

    // `work` for each row of a query.
    template <typename Work>
    void each(const std::string& query, Work&& work) {
        std::optional<Statement> row;
        reading([&] { row.emplace(sql.handle(), query); });
        const auto next = [&] {
            bool more = false;
            reading([&] { more = row->next(); });
            return more;
        };
        while (next()) work(*row);
    }

    int version = 0;
    const std::filesystem::path file;

private:
    template <typename Work>
    void reading(Work&& work) const {
        try {
            work();
        } catch (const SqlFailure&) {
            refuse("is damaged, or not a file that landfall export wrote");
        }
    }

    bool has(std::string_view table) const {
        return version >= (table == "note" ? notesSince : table == "lesson" ? lessonsSince : firstVersion);
    }

    void checkSchema() {
        std::vector<std::string> words = exchangeSchema(version), found;
        Statement row(sql.handle(), "SELECT type, name, sql FROM sqlite_schema ORDER BY rowid");
        while (row.next()) {
            if (!row.isFilled(2) && row.text(0) == "index" && row.text(1).starts_with("sqlite_autoindex_")) continue;
            found.push_back(row.text(2));
            if (found.size() > words.size()) break;
        }
        if (found != words) refuse("has other tables than landfall export writes");
    }

    Connection sql;
};

bool sameCell(const Cell& a, const Cell& b) {
    const auto* x = std::get_if<double>(&a);
    const auto* y = std::get_if<double>(&b);
    if (x && y && std::isnan(*x) && std::isnan(*y)) return true;
    return a == b;
}

// What was measured; not what was said of it afterwards.
bool sameMeasured(const LoggedTry& a, const LoggedTry& b, int version) {
    return std::ranges::all_of(tryColumns(), [&](const TryColumn& column) {
        const std::string_view name = column.name;
        return !isSent(column, version) || name == "struck" || name == "guess"
               || sameCell(column.get(a), column.get(b));
    });
}

class Import {
public:
    Import(Connection& log, const std::filesystem::path& beside, Arrived& file)
        : sql(log), folder(beside), in(file), mark(fmt::format("{:016x}", Sitting::newToken())) {}

    Incoming merge() {
        settleArrivals(sql, folder);
        takeStudent();
        takeGuitars();
        takeTasks();
        takeSittings();
        takeTries();
        takeCurves();
        if (in.version >= lessonsSince) takeLessons();
        if (in.version >= notesSince) takeNotes();
        takeSounds();
        if (found.conflicts.size() > mostConflicts) {
            const auto more = found.conflicts.size() - mostConflicts;
            found.conflicts.resize(mostConflicts);
            found.conflicts.push_back(fmt::format("and {} more like these", more));
        }
        return found;
    }

    std::filesystem::path arriving() const { return folder / "takes" / ("arriving-" + mark); }

private:
    struct SittingHere {
        std::int64_t id = 0;
        CalendarTime started;
        bool isNew = false, foreign = false;  // foreign: another student's here
    };

    std::optional<std::int64_t> idWhere(const std::string& query, const std::vector<Cell>& values) {
        Statement row(sql.handle(), query);
        for (const Cell& value : values) row.bind(value);
        return row.next() ? std::optional(row.whole(0)) : std::nullopt;
    }
    std::int64_t add(const std::string& table, const std::string& columns, const std::vector<Cell>& values) {
        Statement row(sql.handle(),
                      fmt::format("INSERT INTO {}({}) VALUES({})", table, columns, places(values.size())));
        for (const Cell& value : values) row.bind(value);
        row.finish();
        return sql.lastRow();
    }
    void conflict(std::string line) { found.conflicts.push_back(std::move(line)); }

    void takeStudent() {
        in.each("SELECT uuid, name FROM student", [&](Statement& row) {
            const std::string uuid = in.uuid(row, 0), name = in.text(row, 1, "a name", mostName);
            if (matchKey(name).empty()) in.refuse("has a student without a name");
            const auto known = idWhere(
                "SELECT id FROM student WHERE uuid = ?1 UNION ALL SELECT student FROM former WHERE uuid = ?1", {uuid});
            if (known) {
                student = *known;
                Statement here(sql.handle(), "SELECT uuid, name, archived FROM student WHERE id = ?");
                here.bind(student).next();
                found.student = {here.text(0), here.text(1), here.whole(2) != 0};
                if (found.student.name != name)
                    conflict(fmt::format("the file calls {} '{}': the name here stays", found.student.name, name));
                return;
            }
            found.newStudent = true;
            found.student = {uuid, freeName(name), false};
            student = add("student", "uuid, name", {uuid, found.student.name});
        });
        if (student == 0) in.refuse("names no student");
    }

    // Two students of one name are told apart by a number.
    std::string freeName(const std::string& name) {
        std::vector<std::string> keys;
        Statement row(sql.handle(), "SELECT name FROM student");
        while (row.next()) keys.push_back(matchKey(row.text(0)));
        std::string free = name;
        for (int number = 2; std::ranges::find(keys, matchKey(free)) != keys.end(); ++number)
            free = fmt::format("{} {}", name, number);
        if (free != name)
            conflict(
                fmt::format("there is another {} here already, so this one is called '{}': `landfall students "
                            "rename`, or `merge` where they are one",
                            name, free));
        return free;
    }

    void takeGuitars() {
        const char* const columns = in.version >= setUpSince ? guitarColumns : guitarColumnsBefore;
        in.each(fmt::format("SELECT uuid, {} FROM guitar", columns), [&](Statement& row) {
            const std::string uuid = in.uuid(row, 0);
            for (const int word : {1, 2, 7}) in.text(row, word, "a guitar", mostName);
            Guitar guitar = readGuitar(row, 1);
            if (!checkGuitar(guitar) || !std::isfinite(guitar.scaleMm) || guitar.plainStrings < 0
                || guitar.plainStrings > 9 || guitar.gaugesInch.size() > 9)
                in.refuse("has a guitar that cannot exist");
            std::vector<Cell> values;
            for (int column = 1; column <= guitarColumnCount; ++column) values.push_back(row.cell(column));
            guitars[uuid] = guitarHere(uuid, guitar, values);
        });
    }

    // The name may be another here; the instrument may not.
    std::int64_t guitarHere(const std::string& uuid, Guitar guitar, const std::vector<Cell>& values) {
        Statement row(sql.handle(), fmt::format("SELECT {}, id FROM guitar WHERE uuid = ?", guitarColumns));
        if (row.bind(uuid).next()) {
            const Guitar here = readGuitar(row, 0);
            const std::string theirs = guitar.name;
            guitar.name = here.name;
            if (guitar == here) {
                if (theirs != here.name)
                    conflict(fmt::format("the file calls the guitar {} '{}': the name here stays", here.name, theirs));
                return row.whole(guitarColumnCount);
            }
            conflict(fmt::format("the guitar {} is a different one here: the file's is kept beside it", theirs));
            row.finish();
            return add("guitar", fmt::format("uuid, {}", guitarColumns), withNewUuid(values));
        }
        std::vector<Cell> all{uuid};
        all.insert(all.end(), values.begin(), values.end());
        return add("guitar", fmt::format("uuid, {}", guitarColumns), all);
    }
    std::vector<Cell> withNewUuid(const std::vector<Cell>& values) {
        std::vector<Cell> all{sql.text(fmt::format("SELECT {}", newUuid))};
        all.insert(all.end(), values.begin(), values.end());
        return all;
    }

    void takeTasks() {
        in.each("SELECT id, hash, kind, name, content FROM task", [&](Statement& row) {
            const std::string hash = in.text(row, 1, "a drill or phrase"), kind = in.text(row, 2, "a drill or phrase"),
                              name = in.text(row, 3, "a drill or phrase"),
                              content = in.text(row, 4, "a drill or phrase", mostContent);
            if (hash != hashOf(Task{kind, name, content, {}}))
                in.refuse("has a drill or phrase that does not match its own name");
            const auto known = idWhere("SELECT id FROM task WHERE hash = ? AND kind = ? AND name = ? AND content = ?",
                                       {hash, kind, name, content});
            tasks[row.whole(0)] =
                known ? *known : add("task", "hash, kind, name, content", {hash, kind, name, content});
        });
    }

    void takeSittings() {
        in.each("SELECT token, guitar, started_ms, software, input, stiffness FROM sitting", [&](Statement& row) {
            const std::int64_t token = row.whole(0), started = row.whole(2);
            if (started < 0 || started > year2100 || token <= 0) in.refuse("has a sitting without a date");
            const std::string software = in.text(row, 3, "a program's version"), input = in.text(row, 4, "an input"),
                              stiffness = in.text(row, 5, "a guitar's strings", mostName);
            const auto guitar = guitars.find(in.uuid(row, 1));
            if (guitar == guitars.end()) in.refuse("has a sitting without a guitar");
            SittingHere& here = sittings[token];
            here.started = CalendarTime(std::chrono::milliseconds(started));
            Statement known(sql.handle(), "SELECT id, student FROM sitting WHERE token = ?");
            if (known.bind(token).next()) {
                here.id = known.whole(0);
                here.foreign = known.whole(1) != student;
                if (here.foreign)
                    conflict(fmt::format("the sitting of {} belongs to another student here: it is left as it is",
                                         localText(here.started)));
                return;
            }
            here.isNew = true;
            ++found.newSittings;
            here.id = add("sitting", "token, student, guitar, started_ms, software, input, stiffness",
                          {token, student, guitar->second, started, software, input, stiffness});
        });
    }

    SittingHere& sittingOf(std::int64_t token, const char* what) {
        const auto at = sittings.find(token);
        if (at == sittings.end()) in.refuse(fmt::format("has {} that belongs to no sitting", what));
        return at->second;
    }

    // Every value as the log itself would have it.
    LoggedTry readTry(Statement& row) {
        LoggedTry one;
        int at = 2;
        for (const TryColumn& column : tryColumns()) {
            if (!isSent(column, in.version)) continue;
            const Cell cell = row.cell(at++);
            const auto* real = std::get_if<double>(&cell);
            const auto* text = std::get_if<std::string>(&cell);
            const auto* whole = std::get_if<std::int64_t>(&cell);
            const bool time = std::string_view(column.name) == "at_ms";
            if ((real && !(std::abs(*real) <= mostReal)) || (text && text->size() > mostText)
                || (whole && (time ? *whole < 0 || *whole > year2100 : std::abs(*whole) > 1'000'000))
                || !column.set(one, cell))
                in.refuse(fmt::format("has a value for {} that cannot be", column.name));
        }
        const auto& place = one.landing.move.place;
        if (one.number < 1
            || (place && (place->string < 1 || place->string > 9 || place->fret < 0 || place->fret > 36)))
            in.refuse("has a try that cannot be");
        return one;
    }

    void takeTries() {
        in.each(fmt::format("SELECT sitting, task, {} FROM try ORDER BY sitting, number", sentColumns(in.version)),
                [&](Statement& row) {
                    const SittingHere& sitting = sittingOf(row.whole(0), "a try");
                    const LoggedTry one = readTry(row);
                    Cell task;
                    if (row.isFilled(1)) {
                        const auto known = tasks.find(row.whole(1));
                        if (known == tasks.end()) in.refuse("has a try that belongs to no drill or phrase");
                        task = known->second;
                    }
                    if (!sitting.foreign) takeTry(sitting, one, task);
                });
    }

    void takeTry(const SittingHere& sitting, const LoggedTry& one, const Cell& task) {
        const std::int64_t number = one.number;
        if (!sitting.isNew)
            if (const auto here = tryHere(sitting.id, number)) {
                compare(sitting, *here, one);
                return;
            }
        std::vector<Cell> values{sitting.id, task};
        std::string names = "sitting, task";
        for (const TryColumn& column : tryColumns()) {
            names += fmt::format(", {}", column.name);
            values.push_back(column.get(one));
        }
        add("try", names, values);
        ++found.newTries;
        added.insert({sitting.id, number});
    }

    std::optional<LoggedTry> tryHere(std::int64_t sitting, std::int64_t number) {
        Statement row(sql.handle(), fmt::format("SELECT sitting, task, {} FROM try WHERE sitting = ? AND number = ?",
                                                sentColumns(Log::schemaVersion)));
        if (!row.bind(sitting).bind(number).next()) return {};
        LoggedTry one;
        int at = 2;
        for (const TryColumn& column : tryColumns())
            if (isSent(column, Log::schemaVersion) && !column.set(one, row.cell(at++)))
                throw SqlFailure::damaged(fmt::format("sitting {}, try {}", sitting, number));
        return one;
    }

    void compare(const SittingHere& sitting, const LoggedTry& here, const LoggedTry& theirs) {
        ++found.knownTries;
        const std::string which = fmt::format("try {} of {}", here.number, localText(sitting.started));
        if (!sameMeasured(here, theirs, in.version)) conflict(which + " differs in the file: the log's stays");
        else if (here.struck != theirs.struck)
            conflict(fmt::format("{} {} here and not in the file: that stays", which,
                                 here.struck ? "is dropped" : "counts"));
        else if (here.guess != theirs.guess) conflict(which + " has another guess in the file: the log's stays");
    }

    bool isNew(std::int64_t sitting, std::int64_t number) const { return added.contains({sitting, number}); }

    // A try that is there already keeps what it has.
    void takeCurves() {
        in.each("SELECT sitting, number, points FROM curve", [&](Statement& row) {
            const SittingHere& sitting = sittingOf(row.whole(0), "a curve");
            const std::string points = row.bytes(2);
            if (points.size() > mostCurve || !unpackCurve(points)) in.refuse("has a pitch curve that cannot be read");
            if (!isNew(sitting.id, row.whole(1))) return;
            Statement curve(sql.handle(), "INSERT INTO curve(sitting, number, points) VALUES(?, ?, ?)");
            curve.bind(sitting.id).bind(row.whole(1)).bindBytes(points).finish();
        });
    }

    // Whether it can be read as a lesson shows where it is opened: drills it names may be on the other machine only.
    void takeLessons() {
        in.each("SELECT title, received_ms, content, put_away FROM lesson", [&](Statement& row) {
            const std::string title = in.text(row, 0, "a lesson", mostName),
                              content = in.text(row, 2, "a lesson", mostContent);
            const std::int64_t received = row.whole(1), putAway = row.whole(3);
            if (matchKey(title).empty() || received < 0 || received > year2100 || putAway < 0 || putAway > 1)
                in.refuse("holds a lesson that there cannot be");
            Statement here(sql.handle(), "SELECT content FROM lesson WHERE student = ? AND title = ?");
            if (!here.bind(student).bind(title).next())
                add("lesson", "student, title, received_ms, content, put_away",
                    {student, title, received, content, putAway});
            else if (here.text(0) != content)
                conflict(fmt::format("the lesson '{}' is another one here: the log's stays", title));
        });
    }

    // One that was taken back here stays so.
    void takeNotes() {
        in.each("SELECT uuid, sitting, number, written_ms, text FROM note", [&](Statement& row) {
            const std::string uuid = in.uuid(row, 0), text = in.text(row, 4, "a note", mostNote);
            const std::int64_t number = row.whole(2), written = row.whole(3);
            const SittingHere* const sitting = row.isFilled(1) ? &sittingOf(row.whole(1), "a note") : nullptr;
            const Cell here = sitting ? Cell(sitting->id) : Cell();
            const Cell ofTry = row.isFilled(2) ? Cell(number) : Cell();
            if (written < 0 || written > year2100 || (row.isFilled(2) && sitting == nullptr))
                in.refuse("holds a note that there cannot be");
            if (sitting != nullptr && sitting->foreign) return;
            if (row.isFilled(2) && !idWhere("SELECT 1 FROM try WHERE sitting = ? AND number = ?", {here, ofTry}))
                in.refuse("has a note on a try that is not there");
            Statement known(sql.handle(), "SELECT text FROM note WHERE uuid = ?");
            if (!known.bind(uuid).next()) {
                add("note", "uuid, student, sitting, number, written_ms, text",
                    {uuid, student, here, ofTry, written, text});
                if (!text.empty()) ++found.newNotes;
            } else if (known.text(0) != text && !known.text(0).empty()) {
                const CalendarTime when{std::chrono::milliseconds(written)};
                conflict(fmt::format("the note of {} is another one in the file: the log's stays", localText(when)));
            }
        });
    }

    void takeSounds() {
        in.each("SELECT sitting, number, flac FROM take", [&](Statement& row) {
            const SittingHere& sitting = sittingOf(row.whole(0), "a sound");
            const std::string flac = row.bytes(2);
            if (flac.size() > mostTakeBytes || !flac.starts_with("fLaC")) in.refuse("has a sound that is not FLAC");
            if (!wantsSound(sitting, row.whole(1))) return;
            const std::string name = fmt::format("{}-{}.flac", row.whole(0), row.whole(1));
            if (!keepSound(name, flac))
                throw Refused{
                    {Error::Code::unwritable,
                     fmt::format("the sounds of {} cannot be written to {}: free some space there, or ask for "
                                 "the file without sounds",
                                 in.file.string(), (folder / "takes").string())}};
            Statement change(sql.handle(), "UPDATE try SET take_file = ? WHERE sitting = ? AND number = ?");
            change.bind(fmt::format("takes/sent-{}/{}", mark, name)).bind(sitting.id).bind(row.whole(1)).finish();
            ++found.takes;
        });
    }

    // Sounds may come later than their tries.
    bool wantsSound(const SittingHere& sitting, std::int64_t number) {
        if (sitting.foreign) return false;
        return idWhere("SELECT 1 FROM try WHERE sitting = ? AND number = ? AND take_file = ''", {sitting.id, number})
            .has_value();
    }

    bool keepSound(const std::string& name, const std::string& flac) const {
        std::error_code failed;
        std::filesystem::create_directories(arriving(), failed);
        std::filesystem::permissions(arriving(), std::filesystem::perms::owner_all, failed);
        std::ofstream out(arriving() / name, std::ios::binary);
        out.write(flac.data(), static_cast<std::streamsize>(flac.size()));
        out.close();
        std::filesystem::permissions(arriving() / name, ownerOnly, failed);
        return !failed && !out.fail();
    }

    Connection& sql;
    const std::filesystem::path& folder;
    Arrived& in;
    const std::string mark;  // of this import's sounds
    Incoming found;
    std::int64_t student = 0;
    std::map<std::string, std::int64_t> guitars;
    std::map<std::int64_t, std::int64_t> tasks;
    std::map<std::int64_t, SittingHere> sittings;
    std::set<std::pair<std::int64_t, std::int64_t>> added;
};

}  // namespace

Result<Outgoing> outgoing(Log& log, const Student& student, std::optional<CalendarTime> from) {
    Outgoing found;
    const auto read = log.withSql([&](Connection& sql) {
        Export rows(sql, log.folder(), student, since(from));
        found.sittings = static_cast<int>(rows.count(theseSittings));
        found.tries = static_cast<int>(rows.count(fmt::format("try t JOIN {} AND t.sitting = s.id", theseSittings)));
        found.curves = static_cast<int>(rows.count(fmt::format("curve c JOIN {} AND c.sitting = s.id", theseSittings)));
        found.notes = static_cast<int>(rows.count(fmt::format("{} AND n.text <> ''", theseNotes)));
        found.tasks = static_cast<int>(rows.count(
            fmt::format("task WHERE id IN (SELECT t.task FROM try t JOIN {} AND t.sitting = s.id)", theseSittings)));
        Statement guitars(sql.handle(),
                          fmt::format("SELECT DISTINCT name FROM guitar WHERE id IN (SELECT s.guitar FROM "
                                      "{}) ORDER BY name",
                                      theseSittings));
        rows.bind(guitars);
        while (guitars.next()) found.guitars.push_back(guitars.text(0));
        Statement times(sql.handle(),
                        fmt::format("SELECT min(s.started_ms), max(s.started_ms) FROM {}", theseSittings));
        rows.bind(times);
        if (times.next() && times.isFilled(0)) {
            found.first = CalendarTime(std::chrono::milliseconds(times.whole(0)));
            found.last = CalendarTime(std::chrono::milliseconds(times.whole(1)));
        }
        rows.eachTake([&](std::int64_t, std::int64_t, const std::filesystem::path& take) {
            const auto bytes = sendableTake(take);
            ++(bytes ? found.takes : found.missingTakes);
            found.takeBytes += bytes.value_or(0);
        });
    });
    if (!read) return read.error();
    return found;
}

Result<void> exportStudent(Log& log, const Student& student, std::optional<CalendarTime> from, bool takes,
                           const std::filesystem::path& to) {
    std::optional<Error> failed;
    const auto read = log.withSql([&](Connection& sql) {
        const auto written = writeAside(to, [&](const std::filesystem::path& part) {
            Connection out;
            out.open(part, Connection::Mode::write, "", Seconds(1.0));
            // There is nothing to go back to: what is broken off is thrown away.
            out.text("PRAGMA journal_mode = OFF");
            out.run("PRAGMA synchronous = FULL");
            out.run(fmt::format("PRAGMA application_id = {}", exchangeId));
            out.run(fmt::format("PRAGMA user_version = {}", Log::schemaVersion));
            out.transaction([&] {
                sql.run("BEGIN");
                try {
                    Export(sql, log.folder(), student, since(from)).write(out, takes);
                } catch (...) {
                    sql.run("ROLLBACK");
                    throw;
                }
                sql.run("COMMIT");
            });
        });
        if (!written) failed = written.error();
    });
    if (!read) return read.error();
    return failed ? Result<void>(*failed) : Result<void>();
}

Result<Incoming> importFile(Log& log, const std::filesystem::path& from) {
    std::filesystem::path arriving;
    Incoming found;
    std::error_code ignored;
    try {
        Arrived file(from);
        const auto merged = log.withSql([&](Connection& sql) {
            sql.transaction([&] {
                Import import(sql, log.folder(), file);
                arriving = import.arriving();
                found = import.merge();
            });
            // Whoever was quicker with this has done the same.
            sql.transaction([&] { settleArrivals(sql, log.folder()); });
        });
        if (merged) return found;
        std::filesystem::remove_all(arriving, ignored);
        return merged.error();
    } catch (const Refused& refused) {
        if (!arriving.empty()) std::filesystem::remove_all(arriving, ignored);
        return refused.error;
    }
}

void settleArrivals(Connection& sql, const std::filesystem::path& folder) {
    std::error_code none;
    std::vector<std::filesystem::path> left;
    for (const auto& each : std::filesystem::directory_iterator(folder / "takes", none))
        if (each.path().filename().string().starts_with("arriving-")) left.push_back(each.path());
    for (const std::filesystem::path& arriving : left) {
        const std::string sent = "sent-" + arriving.filename().string().substr(9);
        Statement row(sql.handle(), "SELECT 1 FROM try WHERE substr(take_file, 1, length(?1)) = ?1 LIMIT 1");
        if (row.bind("takes/" + sent + "/").next()) std::filesystem::rename(arriving, folder / "takes" / sent, none);
        else std::filesystem::remove_all(arriving, none);
    }
}

}  // namespace landfall
