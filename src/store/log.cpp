#include "src/store/log.h"

#include <algorithm>
#include <array>
#include <system_error>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/store/exchange.h"
#include "src/store/log_schema.h"
#include "src/store/sql.h"
#include "src/store/totals.h"
#include "src/store/whole_file.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

// "LNDF" in the file's header: this database is a practice log and no other program's
constexpr int applicationId = 0x4C4E4446;

// Numbers of the strings as text, string 1 first: "64 59 55 50 45 40".
std::string listText(const std::vector<double>& numbers) { return fmt::format("{}", fmt::join(numbers, " ")); }

std::vector<double> midiNumbers(const Guitar& guitar) {
    std::vector<double> numbers;
    for (const MidiPitch pitch : guitar.openStrings) numbers.push_back(pitch.value);
    return numbers;
}

std::string columnNames(const std::string& table = "") {
    std::vector<std::string> names;
    for (const TryColumn& column : tryColumns()) names.push_back(table + column.name);
    return fmt::format("{}", fmt::join(names, ", "));
}

// The row with these values, made where there is none. Within a transaction, so that nobody else makes it meanwhile.
std::int64_t idOf(Connection& sql, const std::string& insert, const std::string& select,
                  const std::vector<Cell>& values) {
    Statement known(sql.handle(), select);
    for (const Cell& value : values) known.bind(value);
    if (known.next()) return known.whole(0);
    Statement add(sql.handle(), insert);
    for (const Cell& value : values) add.bind(value);
    add.finish();
    return sql.lastRow();
}

constexpr const char* sittingQuery =
    "SELECT s.id, s.token, p.name, s.started_ms, s.software, s.input, s.stiffness, p.uuid, g.name, g.tuning, g.capo, "
    "g.highest_fret, g.left_handed, g.a4_hz, g.gauges_inch, g.plain_strings, g.scale_mm, g.radius_mm, "
    "g.action_mm "
    "FROM sitting s JOIN student p ON p.id = s.student JOIN guitar g ON g.id = s.guitar ";

}  // namespace

Guitar readGuitar(Statement& row, int from) {
    Guitar guitar;
    guitar.name = row.text(from);
    guitar.openStrings.clear();
    for (const double midi : numbersIn(row.text(from + 1))) guitar.openStrings.emplace_back(midi);
    guitar.capo = static_cast<int>(row.whole(from + 2));
    guitar.highestFret = static_cast<int>(row.whole(from + 3));
    guitar.leftHanded = row.whole(from + 4) != 0;
    guitar.a4 = Hertz(row.real(from + 5));
    guitar.gaugesInch = numbersIn(row.text(from + 6));
    if (row.isFilled(from + 7)) guitar.plainStrings = static_cast<int>(row.whole(from + 7));
    if (row.isFilled(from + 8)) guitar.scaleMm = row.real(from + 8);
    guitar.radiusMm = row.real(from + 9);
    guitar.actionMm = row.real(from + 10);
    return guitar;
}

std::int64_t guitarRow(Connection& sql, const Guitar& guitar) {
    const std::int64_t id = idOf(
        sql,
        fmt::format("INSERT INTO guitar(uuid, name, tuning, capo, highest_fret, left_handed, a4_hz, gauges_inch, "
                    "plain_strings, scale_mm, radius_mm, action_mm) VALUES({}, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    newUuid),
        "SELECT id FROM guitar WHERE name = ? AND tuning = ? AND capo = ? AND highest_fret = ? AND left_handed = ? "
        "AND a4_hz = ? AND gauges_inch = ? AND plain_strings = ? AND scale_mm = ? AND radius_mm = ? AND action_mm = ?",
        {guitar.name, listText(midiNumbers(guitar)), std::int64_t{guitar.capo}, std::int64_t{guitar.highestFret},
         guitar.leftHanded, guitar.a4.value, listText(guitar.gaugesInch), std::int64_t{guitar.plainStrings},
         guitar.scaleMm, guitar.radiusMm, guitar.actionMm});
    Statement others(sql.handle(),
                     "DELETE FROM guitar WHERE name = ? AND id <> ? AND id NOT IN (SELECT guitar FROM sitting)");
    others.bind(guitar.name).bind(id).finish();
    Statement back(sql.handle(), "UPDATE guitar SET archived = 0 WHERE name = ? AND archived");
    back.bind(guitar.name).finish();
    return id;
}

namespace {

SittingSummary readSitting(Statement& row) {
    // All of it at once: a random token, as a new sitting begins with, takes longer than the rest.
    SittingSummary summary{.id = row.whole(0),
                           .sitting = {.student = row.text(2),
                                       .studentUuid = row.text(7),
                                       .guitar = readGuitar(row, 8),
                                       .started = CalendarTime(std::chrono::milliseconds(row.whole(3))),
                                       .software = row.text(4),
                                       .input = row.text(5),
                                       .token = row.whole(1)},
                           .drills = {}};
    summary.sitting.guitar.stiffness = numbersIn(row.text(6));
    return summary;
}

// Says what is wrong with the place before SQLite is asked, in words that SQLite does not have.
Result<void> checkPlace(const std::filesystem::path& file, Log::Access access) {
    std::error_code ignored;
    const std::string name = file.string();
    if (name.empty()) return Error{Error::Code::badInput, "the log has no name: write --log FILE"};
    if (std::filesystem::is_directory(file, ignored))
        return Error{Error::Code::badInput, fmt::format("{} is a folder: name a file in it with --log FILE", name)};
    if (std::filesystem::exists(file, ignored)) {
        if (std::filesystem::is_regular_file(file, ignored)) return {};
        return Error{Error::Code::badInput,
                     fmt::format("{} is a device, not a file: name another log with --log FILE", name)};
    }
    const auto folder = file.has_parent_path() ? file.parent_path() : std::filesystem::path(".");
    if (!std::filesystem::is_directory(folder, ignored))
        return Error{
            Error::Code::notFound,
            fmt::format("the folder {} of the log {} does not exist: make it, or name another log with --log FILE",
                        folder.string(), name)};
    if (access == Log::Access::read)
        return Error{Error::Code::notFound, fmt::format("there is no log {} yet: it begins with the first try", name)};
    return {};
}

// Whether the last program that wrote to the log ended without closing it, or is still at it: the last writer to close
// a log empties these.
bool hasUnfinished(const std::filesystem::path& file) {
    for (const char* beside : {"-wal", "-journal"}) {
        std::error_code missing;
        if (std::filesystem::file_size(file.string() + beside, missing) > 0 && !missing) return true;
    }
    return false;
}

// The counting rules of Tally that figures in the file come from: another number counts them anew.
constexpr std::int64_t figureRules = 1;

Cell centsCell(const std::optional<Cents>& cents) { return cents ? Cell(cents->value) : Cell(); }

std::int64_t inLog(CalendarTime time) { return static_cast<std::int64_t>(time.time_since_epoch().count()); }

GestureTally readFigures(Statement& row, Gesture gesture, int from) {
    GestureTally tally;
    tally.gesture = gesture;
    int* const counts[] = {&tally.tries,  &tally.guided, &tally.notCounted, &tally.counted,
                           &tally.inside, &tally.lost,   &tally.otherNote};
    for (int* count : counts) *count = static_cast<int>(row.whole(from++));
    if (row.isFilled(from)) tally.typicalMiss = Cents(row.real(from));
    if (row.isFilled(from + 1)) tally.typicalError = Cents(row.real(from + 1));
    if (row.isFilled(from + 2)) tally.typicalLinger = Seconds(row.real(from + 2));
    return tally;
}

std::optional<Gesture> gestureNamed(std::string_view name) {
    for (const GestureKind& kind : gestureKinds())
        if (kind.name == name) return kind.gesture;
    return {};
}

// What figures over many tries are made of, those of Columns::landings first; reading all of a try's columns takes three
// times as long.
constexpr std::size_t landingColumns = 15;
constexpr std::array<std::string_view, 22> figureColumns{"gesture",
                                                         "from_midi",
                                                         "to_midi",
                                                         "string",
                                                         "fret",
                                                         "target_fret",
                                                         "target",
                                                         "aim_cents",
                                                         "guided",
                                                         "struck",
                                                         "verdict",
                                                         "strings",
                                                         "first_stop_error_cents",
                                                         "landed_fret",
                                                         "landing_error_cents",
                                                         "number",
                                                         "at_ms",
                                                         "drill",
                                                         "move",
                                                         "onset_s",
                                                         "landing_time_s",
                                                         "linger_s"};

}  // namespace

struct Log::Database {
    std::string file;
    std::filesystem::path folder;  // of the file, absolute
    Connection sql;

    std::optional<std::int64_t> studentOf(const std::string& uuid) {
        Statement row(sql.handle(),
                      "SELECT id FROM student WHERE uuid = ?1 UNION ALL SELECT student FROM former WHERE uuid = ?1");
        return row.bind(uuid).next() ? std::optional(row.whole(0)) : std::nullopt;
    }

    std::int64_t addStudent(const std::string& name, const std::string& uuid) {
        Statement add(sql.handle(),
                      fmt::format("INSERT INTO student(name, uuid) VALUES(?, {})", uuid.empty() ? newUuid : "?"));
        add.bind(name);
        if (!uuid.empty()) add.bind(uuid);
        add.finish();
        return sql.lastRow();
    }

    // Who practises again is archived no longer.
    std::int64_t studentId(const Sitting& sitting) {
        std::optional<std::int64_t> id;
        if (!sitting.studentUuid.empty()) id = studentOf(sitting.studentUuid);
        else {
            Statement row(sql.handle(), "SELECT id FROM student WHERE name = ? ORDER BY archived, id LIMIT 1");
            if (row.bind(sitting.student).next()) id = row.whole(0);
        }
        if (!id) return addStudent(sitting.student, sitting.studentUuid);
        sql.run(fmt::format("UPDATE student SET archived = 0 WHERE id = {} AND archived", *id));
        return *id;
    }

    std::int64_t sittingId(const Sitting& sitting) {
        Statement known(sql.handle(), "SELECT id FROM sitting WHERE token = ?");
        if (known.bind(sitting.token).next()) return known.whole(0);
        const std::int64_t student = studentId(sitting), instrument = guitarRow(sql, sitting.guitar);
        Statement add(sql.handle(),
                      "INSERT INTO sitting(token, student, guitar, started_ms, software, input, stiffness) "
                      "VALUES(?, ?, ?, ?, ?, ?, ?)");
        add.bind(sitting.token).bind(student).bind(instrument);
        add.bind(static_cast<std::int64_t>(sitting.started.time_since_epoch().count()))
            .bind(sitting.software)
            .bind(sitting.input)
            .bind(listText(sitting.guitar.stiffness));
        add.finish();
        return sql.lastRow();
    }

    Cell taskId(const LoggedTry& oneTry) {
        if (!oneTry.task) return {};
        const Task& task = *oneTry.task;
        return idOf(sql, "INSERT INTO task(hash, kind, name, content) VALUES(?, ?, ?, ?)",
                    "SELECT id FROM task WHERE hash = ? AND kind = ? AND name = ? AND content = ?",
                    {task.hash, task.kind, task.name, task.content});
    }

    // A take beside the log goes where the log goes.
    std::string takeName(const std::string& take) const {
        const std::filesystem::path path = take;
        if (!path.is_absolute()) return take;
        const std::filesystem::path inside = path.lexically_normal().lexically_relative(folder);
        return inside.empty() || *inside.begin() == ".." ? take : inside.string();
    }

    void put(std::int64_t sitting, const LoggedTry& oneTry) {
        std::string places = "?, ?";
        for (std::size_t i = 0; i < tryColumns().size(); ++i) places += ", ?";
        LoggedTry kept = oneTry;
        kept.takeFile = takeName(oneTry.takeFile);
        Statement add(
            sql.handle(),
            fmt::format("INSERT INTO try(sitting, task, {}) VALUES({}) ON CONFLICT(sitting, number) DO UPDATE "
                        "SET struck = excluded.struck, take_file = excluded.take_file, guess = excluded.guess",
                        columnNames(), places));
        add.bind(sitting).bind(taskId(oneTry));
        for (const TryColumn& column : tryColumns()) add.bind(column.get(kept));
        add.finish();
        if (oneTry.curve.empty()) return;
        Statement curve(sql.handle(), "INSERT OR IGNORE INTO curve(sitting, number, points) VALUES(?, ?, ?)");
        curve.bind(sitting).bind(std::int64_t{oneTry.number}).bindBytes(oneTry.curve).finish();
    }

    std::vector<std::string> drillsOf(std::int64_t sitting) {
        Statement row(sql.handle(), "SELECT drill FROM try WHERE sitting = ? GROUP BY drill ORDER BY min(number)");
        row.bind(sitting);
        std::vector<std::string> drills;
        while (row.next()) drills.push_back(row.text(0));
        return drills;
    }

    void readTries(Statement& row, int from, LoggedTry& one, std::int64_t sitting,
                   std::span<const TryColumn* const> columns) {
        for (const TryColumn* column : columns)
            if (!column->set(one, row.cell(from++)))
                throw SqlFailure::damaged(
                    fmt::format("sitting {}, try {}: {} holds something else", sitting, one.number, column->name));
    }

    std::vector<LoggedTry> triesOf(std::int64_t sitting) {
        std::vector<LoggedTry> found;
        Statement row(sql.handle(), fmt::format("SELECT {} FROM try WHERE sitting = ? ORDER BY number", columnNames()));
        row.bind(sitting);
        std::vector<const TryColumn*> all;
        for (const TryColumn& column : tryColumns()) all.push_back(&column);
        while (row.next()) readTries(row, 0, found.emplace_back(), sitting, all);
        return found;
    }

    // Of all sittings whose figures are in the file as today's rules count them; the others are left as they are.
    std::vector<bool> readFiguresOf(std::vector<SittingSummary>& sittings) {
        std::vector<bool> known(sittings.size());
        Statement row(sql.handle(),
                      "SELECT gesture, drills, tries, guided, not_counted, counted, inside, lost, other_note, "
                      "typical_miss_cents, typical_error_cents, typical_linger_s FROM figures WHERE sitting = ? AND "
                      "rules = ?");
        for (std::size_t i = 0; i < sittings.size(); ++i) {
            SittingSummary& summary = sittings[i];
            row.again();
            row.bind(summary.id).bind(figureRules);
            while (row.next()) {
                if (const auto gesture = gestureNamed(row.text(0))) {
                    summary.gestures.push_back(readFigures(row, *gesture, 2));
                    continue;
                }
                known[i] = true;
                const std::string drills = row.text(1);
                for (std::size_t begin = 0; begin < drills.size();) {
                    const std::size_t end = std::min(drills.find('\x1f', begin), drills.size());
                    summary.drills.push_back(drills.substr(begin, end - begin));
                    begin = end + 1;
                }
            }
        }
        for (SittingSummary& summary : sittings) std::ranges::sort(summary.gestures, {}, &GestureTally::gesture);
        return known;
    }

    void keepFigures(const SittingSummary& summary) {
        Statement add(sql.handle(), "INSERT OR REPLACE INTO figures VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)");
        std::string drills;
        for (const std::string& drill : summary.drills) drills += drill + '\x1f';
        add.bind(summary.id).bind(std::string()).bind(figureRules).bind(drills).finish();
        for (const GestureTally& tally : summary.gestures) {
            add.again();
            add.bind(summary.id).bind(std::string(gestureName(tally.gesture))).bind(figureRules).bind({});
            for (const int count : {tally.tries, tally.guided, tally.notCounted, tally.counted, tally.inside,
                                    tally.lost, tally.otherNote})
                add.bind(std::int64_t{count});
            add.bind(centsCell(tally.typicalMiss)).bind(centsCell(tally.typicalError));
            add.bind(tally.typicalLinger ? Cell(tally.typicalLinger->value) : Cell()).finish();
        }
    }

    // Drills and figures of these sittings, from the file where it has them. What has to be counted is kept there, if
    // the file can be written just now: a hundred sittings at a time, so that nobody waits long for it.
    void count(std::vector<SittingSummary>& sittings) {
        const std::vector<bool> known = readFiguresOf(sittings);
        std::vector<SittingSummary*> missing;
        for (std::size_t i = 0; i < sittings.size(); ++i)
            if (!known[i]) missing.push_back(&sittings[i]);
        constexpr std::size_t atOnce = 100;
        bool keeps = !sql.isReadOnly();
        for (std::size_t i = 0; i < missing.size(); i += atOnce) {
            const std::size_t end = std::min(i + atOnce, missing.size());
            const auto countThese = [&](bool keep) {
                for (std::size_t at = i; at < end; ++at) {
                    SittingSummary& summary = *missing[at];
                    summary.gestures = tallyOf(triesOf(summary.id)).gestures();
                    summary.drills = drillsOf(summary.id);
                    if (keep) keepFigures(summary);
                }
            };
            if (keeps) try {
                    sql.transaction([&] { countThese(true); });
                    continue;
                } catch (const SqlFailure& failure) {
                    if (failure.isDamage()) throw;
                    keeps = false;  // locked or full: they are counted again the next time
                }
            countThese(false);
        }
    }

    // Takes beside the log were named with their whole path.
    void nameTakesFromHere() {
        const std::string beginning = (folder / "").string();
        Statement change(sql.handle(),
                         "UPDATE try SET take_file = substr(take_file, ?1) WHERE substr(take_file, 1, ?1 - 1) = ?2");
        change.bind(static_cast<std::int64_t>(characterCount(beginning) + 1)).bind(beginning).finish();
    }

    // The schema's version; the file is known to be a log, or empty.
    Result<void> bringForward(Log::Access access) {
        const auto tables = sql.number("SELECT count(*) FROM sqlite_schema");
        if (tables == 0 && access == Log::Access::read)
            return Error{Error::Code::notFound,
                         fmt::format("there is no log in {} yet: it begins with the first try", file)};
        if (tables != 0 && sql.number("PRAGMA application_id") != applicationId)
            return Error{Error::Code::badInput,
                         fmt::format("{} is a database of another program: name another log with --log FILE", file)};
        const auto version = sql.number("PRAGMA user_version");
        if (version > schemaVersion)
            return Error{
                Error::Code::tooNew,
                fmt::format(
                    "the log {} was written by a newer Landfall (schema {}, this one knows {}): update Landfall, or "
                    "name another log with --log FILE",
                    file, version, schemaVersion)};
        if (version == schemaVersion) return {};
        if (sql.isReadOnly())
            return Error{
                Error::Code::unwritable,
                fmt::format(
                    "the log {} is of an older Landfall and cannot be brought forward because it cannot be written: "
                    "allow writing, or read a copy with --log FILE",
                    file)};
        sql.run("PRAGMA foreign_keys = OFF");  // a table is made anew under its old name
        sql.transaction([&] {
            // Another program may have done it while this one waited for the lock.
            for (auto from = static_cast<int>(sql.number("PRAGMA user_version")); from < schemaVersion; ++from) {
                for (const std::string& step : stepFrom(from)) sql.run(step);
                if (from == 3) nameTakesFromHere();
            }
            sql.run(fmt::format("PRAGMA application_id = {}", applicationId));
            sql.run(fmt::format("PRAGMA user_version = {}", schemaVersion));
        });
        return {};
    }

    // Broken indexes are made anew from the rows; another fault of the pages is past mending here.
    void checkPages(LogCheck& found) {
        if (sql.text("PRAGMA integrity_check(1)") == "ok") return;
        sql.run("REINDEX");
        const std::string verdict = sql.text("PRAGMA integrity_check(1)");
        if (verdict != "ok") throw SqlFailure::damaged(verdict);
        found.mended.emplace_back("indexes, made anew");
    }

    // Every value as the program reads it, and what refers to something that is not there.
    void checkRows(LogCheck& found) {
        Statement sittings(sql.handle(), "SELECT DISTINCT sitting FROM try");
        while (sittings.next()) {
            try {
                for (const LoggedTry& one : triesOf(sittings.whole(0)))
                    if (!one.takeFile.empty() && !std::filesystem::exists(folder / one.takeFile)) ++found.missingTakes;
            } catch (const SqlFailure& failure) {
                if (failure.detail.empty()) throw;
                found.wrong.push_back(failure.detail);
            }
        }
        const auto lost = sql.number("SELECT count(*) FROM pragma_foreign_key_check WHERE \"table\" <> 'curve'");
        if (lost > 0)
            found.wrong.push_back(
                fmt::format("{} rows refer to a student, guitar, sitting or task that is not there", lost));
        // Whatever was kept in them is counted anew.
        sql.transaction([&] { sql.run("DELETE FROM figures"); });
    }

    void checkCurves(LogCheck& found) {
        std::vector<std::pair<std::int64_t, std::int64_t>> useless;
        Statement row(sql.handle(),
                      "SELECT c.sitting, c.number, c.points, t.number IS NULL FROM curve c LEFT JOIN try t "
                      "ON t.sitting = c.sitting AND t.number = c.number");
        while (row.next())
            if (row.whole(3) != 0 || !unpackCurve(row.bytes(2))) useless.emplace_back(row.whole(0), row.whole(1));
        if (useless.empty()) return;
        sql.transaction([&] {
            for (const auto& [sitting, number] : useless)
                sql.run(fmt::format("DELETE FROM curve WHERE sitting = {} AND number = {}", sitting, number));
        });
        found.mended.push_back(
            fmt::format("{} curves that could not be read, or belonged to no try, were removed", useless.size()));
    }

    void checkRights(LogCheck& found) const {
        std::error_code ignored;
        const auto others = std::filesystem::perms::group_all | std::filesystem::perms::others_all;
        if ((std::filesystem::status(file, ignored).permissions() & others) == std::filesystem::perms::none) return;
        for (const char* end : {"", "-wal", "-shm"}) std::filesystem::permissions(file + end, ownerOnly, ignored);
        found.mended.emplace_back("others could read it; now only its owner can");
    }

    Result<void> connect(const std::filesystem::path& path, Log::Access access, Seconds patience, bool unclean) {
        const bool writes = access == Log::Access::write;
        std::error_code ignored;
        const bool isNew = writes && !std::filesystem::exists(path, ignored);
        try {
            sql.open(path, writes ? Connection::Mode::make : Connection::Mode::write, "", patience);
        } catch (const SqlFailure& failure) {
            if (writes || failure.isNoDatabase() || failure.isBusy()) throw;
            // A WAL database in a folder that cannot be written has no place for its shared memory. Without a
            // write-ahead log beside it the file is complete, and nobody can be changing it: read it as it is.
            const bool hasWal = std::filesystem::exists(path.string() + "-wal", ignored);
            sql.open(path, Connection::Mode::read, hasWal ? "" : "?immutable=1", patience);
        }
        // Before anything is in it; SQLite gives its write-ahead log the same.
        if (isNew) std::filesystem::permissions(path, ownerOnly, ignored);
        if (writes && sql.isReadOnly()) throw SqlFailure::unwritable();
        if (auto known = bringForward(access); !known) return known;
        if (!writes) {
            // Who only looks leaves the sign of an unclean end for who writes next.
            if (unclean) sql.leaveWriteAheadLog();
            return {};
        }
        if (unclean && sql.text("PRAGMA quick_check(1)") != "ok") throw SqlFailure::damaged();
        // a file system without shared memory answers another mode; it is as safe, but readers wait
        sql.text("PRAGMA journal_mode = WAL");
        sql.run("PRAGMA synchronous = FULL");
        // The write-ahead log is folded into the file now and every 100 pages (0.4 MB, some 25 tries), so that it does
        // not eat up a small disk. Where a reader is in the way this does nothing, and the next one does it.
        sql.foldWriteAheadLog();
        sql.number("PRAGMA wal_autocheckpoint = 100");
        sql.run("PRAGMA foreign_keys = ON");
        return {};
    }

    template <typename Work>
    auto guarded(Work&& work) -> decltype(work()) {
        try {
            return work();
        } catch (const SqlFailure& failure) {
            return errorOf(file, failure);
        }
    }
};

Log::Log(std::unique_ptr<Database> opened) : database(std::move(opened)) {}
Log::Log(Log&&) noexcept = default;
Log& Log::operator=(Log&&) noexcept = default;
Log::~Log() = default;

Result<Log> Log::open(const std::filesystem::path& file, Access access, Seconds patience) {
    if (auto place = checkPlace(file, access); !place) return place.error();
    auto opened = std::make_unique<Database>();
    Database& db = *opened;
    db.file = file.string();
    std::error_code ignored;
    db.folder = std::filesystem::absolute(file, ignored).lexically_normal().parent_path();
    const bool unclean = hasUnfinished(file);  // opening it may tidy that away
    auto ready = db.guarded([&] { return db.connect(file, access, patience, unclean); });
    if (!ready) return ready.error();
    return Log(std::move(opened));
}

Result<void> Log::put(const Sitting& sitting, const LoggedTry& oneTry) {
    return putAll(sitting, std::span(&oneTry, 1));
}

Result<void> Log::putAll(const Sitting& sitting, std::span<const LoggedTry> tries) {
    Database& db = *database;
    return db.guarded([&]() -> Result<void> {
        db.sql.transaction([&] {
            const std::int64_t id = db.sittingId(sitting);
            for (const LoggedTry& oneTry : tries) db.put(id, oneTry);
        });
        return {};
    });
}

Result<void> Log::setStruck(std::int64_t sittingId, int number, bool struck) {
    Database& db = *database;
    return db.guarded([&]() -> Result<void> {
        bool found = false;
        db.sql.transaction([&] {
            Statement change(db.sql.handle(), "UPDATE try SET struck = ? WHERE sitting = ? AND number = ?");
            change.bind(struck).bind(sittingId).bind(std::int64_t{number}).finish();
            found = db.sql.changes() == 1;
        });
        if (found) return {};
        return Error{Error::Code::notFound,
                     fmt::format("there is no try {}.{} in the log {}: `landfall log {}` shows the sitting's tries",
                                 sittingId, number, db.file, sittingId)};
    });
}

Result<std::vector<Student>> Log::students() {
    return database->guarded([&]() -> Result<std::vector<Student>> {
        std::vector<Student> found;
        Statement row(database->sql.handle(), "SELECT uuid, name, archived FROM student ORDER BY name, id");
        while (row.next()) found.push_back({row.text(0), row.text(1), row.whole(2) != 0});
        return found;
    });
}

Result<Student> Log::addStudent(const std::string& name) {
    Database& db = *database;
    return db.guarded([&]() -> Result<Student> {
        Student made{{}, name, false};
        db.sql.transaction([&] {
            const std::int64_t id = db.addStudent(name, {});
            made.uuid = db.sql.text(fmt::format("SELECT uuid FROM student WHERE id = {}", id));
        });
        return made;
    });
}

Result<void> Log::change(const Student& student) {
    Database& db = *database;
    return db.guarded([&]() -> Result<void> {
        Statement change(db.sql.handle(), "UPDATE student SET name = ?, archived = ? WHERE uuid = ?");
        change.bind(student.name).bind(student.archived).bind(student.uuid).finish();
        if (db.sql.changes() == 1) return {};
        return Error{Error::Code::notFound,
                     fmt::format("there is no student {} ({}) in the log {}", student.name, student.uuid, db.file)};
    });
}

Result<std::vector<SittingSummary>> Log::sittings(const std::optional<std::string>& student) {
    return database->guarded([&]() -> Result<std::vector<SittingSummary>> {
        std::vector<SittingSummary> found;
        Statement row(database->sql.handle(),
                      fmt::format("{}{}ORDER BY s.started_ms, s.id", sittingQuery, student ? "WHERE p.name = ? " : ""));
        if (student) row.bind(*student);
        while (row.next()) found.push_back(readSitting(row));
        database->count(found);
        return found;
    });
}

Result<std::vector<SittingSummary>> Log::sittingsOf(const Student& student) {
    return database->guarded([&]() -> Result<std::vector<SittingSummary>> {
        std::vector<SittingSummary> found;
        Statement row(database->sql.handle(),
                      fmt::format("{}WHERE p.uuid = ? ORDER BY s.started_ms, s.id", sittingQuery));
        row.bind(student.uuid);
        while (row.next()) found.push_back(readSitting(row));
        return found;
    });
}

Result<std::optional<CalendarTime>> Log::firstSitting(const std::string& student) {
    return database->guarded([&]() -> Result<std::optional<CalendarTime>> {
        Statement row(database->sql.handle(),
                      "SELECT min(s.started_ms) FROM sitting s JOIN student p ON p.id = "
                      "s.student WHERE p.name = ?");
        if (!row.bind(student).next() || !row.isFilled(0)) return std::optional<CalendarTime>();
        return std::optional(CalendarTime(std::chrono::milliseconds(row.whole(0))));
    });
}

Result<SittingSummary> Log::sitting(std::int64_t id) {
    return database->guarded([&]() -> Result<SittingSummary> {
        std::vector<SittingSummary> found;
        Statement row(database->sql.handle(), fmt::format("{}WHERE s.id = ?", sittingQuery));
        if (!row.bind(id).next())
            return Error{
                Error::Code::notFound,
                fmt::format("there is no sitting {} in the log {}: `landfall log` lists them", id, database->file)};
        found.push_back(readSitting(row));
        row.finish();
        database->count(found);
        return found.front();
    });
}

Result<std::optional<std::int64_t>> Log::lastSitting() {
    return database->guarded([&]() -> Result<std::optional<std::int64_t>> {
        Statement row(database->sql.handle(), "SELECT id FROM sitting ORDER BY started_ms DESC, id DESC LIMIT 1");
        return row.next() ? std::optional(row.whole(0)) : std::nullopt;
    });
}

Result<std::vector<LoggedTry>> Log::lastTime(const std::string& student, const std::string& drill, std::int64_t token) {
    auto sitting = database->guarded([&]() -> Result<std::int64_t> {
        // Sittings whose kept list of drills is without it need not be read.
        Statement row(
            database->sql.handle(),
            "SELECT s.id FROM sitting s JOIN student p ON p.id = s.student WHERE p.name = ? AND s.token <> ? AND "
            "NOT EXISTS(SELECT 1 FROM figures f WHERE f.sitting = s.id AND f.gesture = '' AND f.rules = ? AND "
            "instr(char(31) || f.drills, char(31) || ?4 || char(31)) = 0) AND "
            "EXISTS(SELECT 1 FROM try t WHERE t.sitting = s.id AND t.drill = ?4 AND NOT t.struck) "
            "ORDER BY s.started_ms DESC, s.id DESC LIMIT 1");
        return row.bind(student).bind(token).bind(figureRules).bind(drill).next() ? row.whole(0) : 0;
    });
    if (!sitting) return sitting.error();
    if (*sitting == 0) return std::vector<LoggedTry>{};
    auto all = tries(*sitting);
    if (all) std::erase_if(*all, [&](const LoggedTry& one) { return one.drill != drill || one.struck; });
    return all;
}

Result<std::vector<LoggedTry>> Log::tries(std::int64_t sittingId) {
    return database->guarded([&]() -> Result<std::vector<LoggedTry>> { return database->triesOf(sittingId); });
}

Result<void> Log::eachTry(const Student& student, CalendarTime from,
                          const std::function<void(std::int64_t, const LoggedTry&)>& wanted, Columns columns) {
    return database->guarded([&]() -> Result<void> {
        std::vector<const TryColumn*> read;
        std::string names;
        const auto asked =
            std::span(figureColumns).first(columns == Columns::landings ? landingColumns : figureColumns.size());
        for (const TryColumn& column : tryColumns()) {
            if (std::ranges::find(asked, std::string_view(column.name)) == asked.end()) continue;
            read.push_back(&column);
            names += fmt::format(", t.{}", column.name);
        }
        Statement row(
            database->sql.handle(),
            fmt::format("SELECT t.sitting{} FROM student p JOIN sitting s ON s.student = p.id JOIN try t ON "
                        "t.sitting = s.id WHERE p.uuid = ? AND s.started_ms >= ? ORDER BY s.started_ms, s.id, "
                        "t.number",
                        names));
        row.bind(student.uuid).bind(inLog(from));
        const LoggedTry blank;  // a new one asks the clock
        while (row.next()) {
            LoggedTry one = blank;
            database->readTries(row, 1, one, row.whole(0), read);
            wanted(row.whole(0), one);
        }
        return {};
    });
}

Result<std::optional<std::int64_t>> Log::sittingBefore(std::int64_t sittingId, const Move& move) {
    return database->guarded([&]() -> Result<std::optional<std::int64_t>> {
        if (!move.place) return std::optional<std::int64_t>();
        Statement row(
            database->sql.handle(),
            "SELECT s.id FROM sitting h JOIN sitting s ON s.student = h.student AND (s.started_ms < "
            "h.started_ms OR (s.started_ms = h.started_ms AND s.id < h.id)) WHERE h.id = ? AND EXISTS(SELECT 1 "
            "FROM try t WHERE t.sitting = s.id AND t.string = ? AND t.fret = ? AND t.gesture = ? AND "
            "abs(t.to_midi - t.from_midi - ?) < 0.25 AND (t.strings IS NULL) = ? AND NOT t.struck) "
            "ORDER BY s.started_ms DESC, s.id DESC LIMIT 1");
        row.bind(sittingId).bind(std::int64_t{move.place->string}).bind(std::int64_t{move.place->fret});
        row.bind(std::string(gestureName(move.gesture))).bind(move.to.value - move.from.value).bind(move.with.empty());
        return row.next() ? std::optional(row.whole(0)) : std::nullopt;
    });
}

Result<std::vector<TryInSitting>> Log::triesOfDrill(const Student& student, const std::string& drill,
                                                    CalendarTime from) {
    return database->guarded([&]() -> Result<std::vector<TryInSitting>> {
        std::vector<const TryColumn*> all;
        for (const TryColumn& column : tryColumns()) all.push_back(&column);
        // By their sittings first, which are few and found by an index; none lasts a day.
        Statement row(
            database->sql.handle(),
            fmt::format("SELECT t.sitting, {} FROM student p JOIN sitting s ON s.student = p.id JOIN try t ON "
                        "t.sitting = s.id WHERE p.uuid = ? AND s.started_ms >= ? AND t.at_ms >= ? AND "
                        "t.drill = ? AND NOT t.struck ORDER BY s.started_ms, s.id, t.number",
                        columnNames("t.")));
        row.bind(student.uuid).bind(inLog(from - std::chrono::hours(24))).bind(inLog(from)).bind(drill);
        std::vector<TryInSitting> found;
        while (row.next()) {
            TryInSitting& one = found.emplace_back();
            one.sitting = row.whole(0);
            database->readTries(row, 1, one.oneTry, one.sitting, all);
        }
        return found;
    });
}

Result<std::optional<TryCurve>> Log::curve(std::int64_t sittingId, int number) {
    return database->guarded([&]() -> Result<std::optional<TryCurve>> {
        Statement row(database->sql.handle(), "SELECT points FROM curve WHERE sitting = ? AND number = ?");
        if (!row.bind(sittingId).bind(std::int64_t{number}).next()) return std::optional<TryCurve>();
        auto points = unpackCurve(row.bytes(0));
        if (!points)
            throw SqlFailure::damaged(fmt::format("sitting {}, try {}: the curve cannot be read", sittingId, number));
        return points;
    });
}

Result<std::optional<Task>> Log::taskOf(std::int64_t sittingId, int number) {
    return database->guarded([&]() -> Result<std::optional<Task>> {
        Statement row(database->sql.handle(),
                      "SELECT k.kind, k.name, k.content, k.hash FROM try t JOIN task k ON k.id "
                      "= t.task WHERE t.sitting = ? AND t.number = ?");
        if (!row.bind(sittingId).bind(std::int64_t{number}).next()) return std::optional<Task>();
        return std::optional(Task{row.text(0), row.text(1), row.text(2), row.text(3)});
    });
}

Result<LogCheck> Log::check() {
    Database& db = *database;
    auto checked = db.guarded([&]() -> Result<LogCheck> {
        LogCheck found;
        db.checkPages(found);
        db.sql.transaction([&] { settleArrivals(db.sql, db.folder); });
        db.checkRows(found);
        db.checkCurves(found);
        db.checkRights(found);
        found.students = db.sql.number("SELECT count(*) FROM student");
        found.sittings = db.sql.number("SELECT count(*) FROM sitting");
        found.tries = db.sql.number("SELECT count(*) FROM try");
        found.curves = db.sql.number("SELECT count(*) FROM curve");
        return found;
    });
    // The figures are counted now, so that nobody waits for them afterwards.
    if (checked && checked->wrong.empty())
        if (const auto counted = sittings(); !counted) return counted.error();
    return checked;
}

Result<void> Log::backup(const std::filesystem::path& to) {
    return writeAside(to, [&](const std::filesystem::path& part) {
        Statement copy(database->sql.handle(), "VACUUM INTO ?");
        copy.bind(part.string()).finish();
        Connection written;
        written.open(part, Connection::Mode::write, "", Seconds(1.0));
        // A write that is synced takes everything before it to the disk.
        written.run("PRAGMA synchronous = FULL");
        written.transaction([&] { written.run("DELETE FROM figures"); });
    });
}

std::filesystem::path Log::takeOf(const LoggedTry& oneTry) const {
    return oneTry.takeFile.empty() ? std::filesystem::path() : database->folder / oneTry.takeFile;
}

const std::filesystem::path& Log::folder() const { return database->folder; }

Result<void> Log::withSql(const std::function<void(Connection&)>& work) {
    return database->guarded([&]() -> Result<void> {
        work(database->sql);
        return {};
    });
}

}  // namespace landfall
