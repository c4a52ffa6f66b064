#include "src/store/log.h"

#include <cerrno>
#include <charconv>
#include <cstdlib>
#include <system_error>

#include <fmt/core.h>
#include <fmt/ranges.h>
#include <sqlite3.h>

namespace landfall {

namespace {

// "LNDF" in the file's header: this database is a practice log and no other program's
constexpr int applicationId = 0x4C4E4446;

// Thrown inside this file only, where a statement fails; every public function turns it into an Error.
struct SqlFailure {
    int code = SQLITE_ERROR;  // extended
    int systemError = 0;
    std::string detail;  // our own words; the library's are for programmers
};

// Numbers of the strings as text, string 1 first: "64 59 55 50 45 40".
std::string listText(const std::vector<double>& numbers) { return fmt::format("{}", fmt::join(numbers, " ")); }

std::vector<double> listOf(std::string_view text) {
    std::vector<double> numbers;
    const char* const end = text.data() + text.size();
    for (const char* at = text.data(); at < end; ++at) {
        double number = 0.0;
        const auto [next, bad] = std::from_chars(at, end, number);
        if (bad != std::errc()) break;
        numbers.push_back(number);
        at = next;
    }
    return numbers;
}

std::vector<double> midiNumbers(const Guitar& guitar) {
    std::vector<double> numbers;
    for (const MidiPitch pitch : guitar.openStrings) numbers.push_back(pitch.value);
    return numbers;
}

bool isDiskFull(const SqlFailure& failure) {
    return (failure.code & 0xFF) == SQLITE_FULL
           || (((failure.code & 0xFF) == SQLITE_IOERR || (failure.code & 0xFF) == SQLITE_CANTOPEN)
               && (failure.systemError == ENOSPC || failure.systemError == EDQUOT || failure.systemError == EFBIG));
}

Error errorOf(const std::string& file, const SqlFailure& failure) {
    using Code = Error::Code;
    if (isDiskFull(failure))
        return {
            Code::full,
            fmt::format(
                "the disk of the log {} is full: free some space there, or name a log on another disk with --log FILE",
                file)};
    switch (failure.code & 0xFF) {
        case SQLITE_BUSY:
        case SQLITE_LOCKED:
            return {Code::busy,
                    fmt::format(
                        "another program has locked the log {}: close it there, or name another log with --log FILE",
                        file)};
        case SQLITE_CORRUPT:
        case SQLITE_NOTADB:
        case SQLITE_FORMAT:
            return {Code::corrupt, fmt::format("the log {} is damaged or no log at all{}: move it aside and a new "
                                               "one is begun, or name another "
                                               "with --log FILE; `sqlite3 FILE .recover` saves what can be read",
                                               file, failure.detail.empty() ? "" : " (" + failure.detail + ")")};
        case SQLITE_READONLY:
        case SQLITE_PERM:
        case SQLITE_AUTH:
            return {Code::unwritable, fmt::format("the log {} cannot be written: allow writing to the file and its "
                                                  "folder, or name another log with --log FILE",
                                                  file)};
        case SQLITE_CANTOPEN:
            return {Code::unreadable, fmt::format("the log {} cannot be opened: allow reading and writing it and its "
                                                  "folder, or name another log with --log FILE",
                                                  file)};
        default:
            return {Code::failed,
                    fmt::format(
                        "the log {} cannot be used (SQLite error {}{}); name another log with --log FILE to go on",
                        file, failure.code,
                        failure.systemError != 0 ? ", " + std::generic_category().message(failure.systemError) : "")};
    }
}

class Statement {
public:
    Statement(sqlite3* connection, const std::string& sql) : db(connection) {
        check(sqlite3_prepare_v2(db, sql.c_str(), static_cast<int>(sql.size()), &handle, nullptr));
    }
    Statement(const Statement&) = delete;
    Statement& operator=(const Statement&) = delete;
    ~Statement() { sqlite3_finalize(handle); }

    Statement& bind(const Cell& cell) {
        const int at = ++bound;
        if (const auto* truth = std::get_if<bool>(&cell)) check(sqlite3_bind_int64(handle, at, *truth));
        else if (const auto* whole = std::get_if<std::int64_t>(&cell)) check(sqlite3_bind_int64(handle, at, *whole));
        else if (const auto* real = std::get_if<double>(&cell)) check(sqlite3_bind_double(handle, at, *real));
        else if (const auto* text = std::get_if<std::string>(&cell))
            check(sqlite3_bind_text64(handle, at, text->data(), text->size(), SQLITE_TRANSIENT, SQLITE_UTF8));
        else check(sqlite3_bind_null(handle, at));
        return *this;
    }

    bool next() {
        const int code = sqlite3_step(handle);
        if (code != SQLITE_ROW && code != SQLITE_DONE) fail();
        return code == SQLITE_ROW;
    }

    void finish() {
        while (next()) {
        }
    }

    Cell cell(int column) {
        switch (sqlite3_column_type(handle, column)) {
            case SQLITE_INTEGER: return static_cast<std::int64_t>(sqlite3_column_int64(handle, column));
            case SQLITE_FLOAT: return sqlite3_column_double(handle, column);
            case SQLITE_NULL: return {};
            default: return text(column);
        }
    }
    bool isFilled(int column) { return sqlite3_column_type(handle, column) != SQLITE_NULL; }
    std::int64_t whole(int column) { return sqlite3_column_int64(handle, column); }
    double real(int column) { return sqlite3_column_double(handle, column); }
    std::string text(int column) {
        const auto* bytes = reinterpret_cast<const char*>(sqlite3_column_text(handle, column));
        return bytes ? std::string(bytes, static_cast<std::size_t>(sqlite3_column_bytes(handle, column)))
                     : std::string();
    }

private:
    void check(int code) {
        if (code != SQLITE_OK) fail();
    }
    // SQLite notes the system's error where it opens a file; of a failed write only errno still knows.
    [[noreturn]] void fail() {
        const int systemError = errno;
        const int code = sqlite3_extended_errcode(db);
        const bool failedInput = (code & 0xFF) == SQLITE_IOERR || (code & 0xFF) == SQLITE_CANTOPEN;
        throw SqlFailure{code, failedInput ? systemError : 0, {}};
    }

    sqlite3* db = nullptr;
    sqlite3_stmt* handle = nullptr;
    int bound = 0;
};

std::string triesSchema() {
    std::string sql = "CREATE TABLE try(sitting INTEGER NOT NULL REFERENCES sitting(id)";
    for (const TryColumn& column : tryColumns())
        if (column.sinceSchema == 1) sql += fmt::format(", {} {}", column.name, column.sqlType);
    return sql + ", PRIMARY KEY(sitting, number)) WITHOUT ROWID";
}

// Brings the schema from `version` to the next. Steps only ever add; what is in the file stays.
std::vector<std::string> stepFrom(int version) {
    if (version == 0)
        return {"CREATE TABLE student(id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE)",
                "CREATE TABLE guitar(id INTEGER PRIMARY KEY, name TEXT NOT NULL, tuning TEXT NOT NULL, capo INTEGER "
                "NOT NULL, "
                "highest_fret INTEGER NOT NULL, left_handed INTEGER NOT NULL, a4_hz REAL NOT NULL)",
                "CREATE TABLE sitting(id INTEGER PRIMARY KEY AUTOINCREMENT, token INTEGER NOT NULL UNIQUE, "
                "student INTEGER NOT NULL REFERENCES student(id), guitar INTEGER NOT NULL REFERENCES guitar(id), "
                "started_ms INTEGER NOT NULL, software TEXT NOT NULL)",
                triesSchema()};
    std::vector<std::string> statements;
    if (version == 1)  // what was heard, and the rest of the guitar; NULL: not known of a sitting of schema 1
        statements = {"ALTER TABLE sitting ADD COLUMN input TEXT NOT NULL DEFAULT ''",
                      "ALTER TABLE guitar ADD COLUMN gauges_inch TEXT",
                      "ALTER TABLE guitar ADD COLUMN plain_strings INTEGER",
                      "ALTER TABLE guitar ADD COLUMN scale_mm REAL"};
    for (const TryColumn& column : tryColumns())
        if (column.sinceSchema == version + 1)
            statements.push_back(fmt::format("ALTER TABLE try ADD COLUMN {} {}", column.name, column.sqlType));
    return statements;
}

std::string columnNames() {
    std::vector<std::string> names;
    for (const TryColumn& column : tryColumns()) names.emplace_back(column.name);
    return fmt::format("{}", fmt::join(names, ", "));
}

constexpr const char* sittingQuery =
    "SELECT s.id, s.token, p.name, s.started_ms, s.software, g.name, g.tuning, g.capo, g.highest_fret, g.left_handed, "
    "g.a4_hz, "
    "s.input, g.gauges_inch, g.plain_strings, g.scale_mm "
    "FROM sitting s JOIN student p ON p.id = s.student JOIN guitar g ON g.id = s.guitar ";

SittingSummary readSitting(Statement& row) {
    SittingSummary summary;
    summary.id = row.whole(0);
    summary.sitting.token = row.whole(1);
    summary.sitting.student = row.text(2);
    summary.sitting.started = CalendarTime(std::chrono::milliseconds(row.whole(3)));
    summary.sitting.software = row.text(4);
    Guitar& guitar = summary.sitting.guitar;
    guitar.name = row.text(5);
    guitar.openStrings.clear();
    for (const double midi : listOf(row.text(6))) guitar.openStrings.emplace_back(midi);
    guitar.capo = static_cast<int>(row.whole(7));
    guitar.highestFret = static_cast<int>(row.whole(8));
    guitar.leftHanded = row.whole(9) != 0;
    guitar.a4 = Hertz(row.real(10));
    summary.sitting.input = row.text(11);
    guitar.gaugesInch = listOf(row.text(12));
    if (row.isFilled(13)) guitar.plainStrings = static_cast<int>(row.whole(13));
    if (row.isFilled(14)) guitar.scaleMm = row.real(14);
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

// A path as a URI that SQLite reads, with every byte outside [A-Za-z0-9/._-] written as %XX.
std::string uriOf(const std::filesystem::path& file, std::string_view query) {
    std::string uri = "file:";
    for (const char c : std::filesystem::absolute(file).string()) {
        const auto byte = static_cast<unsigned char>(c);
        const bool plain = (byte >= 'a' && byte <= 'z') || (byte >= 'A' && byte <= 'Z') || (byte >= '0' && byte <= '9')
                           || c == '/' || c == '.' || c == '_' || c == '-';
        uri += plain ? std::string(1, c) : fmt::format("%{:02X}", byte);
    }
    return uri.append(query);
}

}  // namespace

struct Log::Database {
    std::string file;
    sqlite3* connection = nullptr;

    ~Database() { sqlite3_close_v2(connection); }

    void run(const std::string& sql) {
        Statement statement(connection, sql);
        statement.finish();
    }
    // The first value of the first row; the statement is carried out to its end.
    std::string text(const std::string& sql) {
        Statement statement(connection, sql);
        std::string first = statement.next() ? statement.text(0) : "";
        statement.finish();
        return first;
    }
    std::int64_t number(const std::string& sql) { return std::strtoll(text(sql).c_str(), nullptr, 10); }

    void connect(const std::filesystem::path& path, int flags, std::string_view query, Seconds patience) {
        sqlite3_close_v2(connection);
        connection = nullptr;
        const int code = sqlite3_open_v2(uriOf(path, query).c_str(), &connection,
                                         flags | SQLITE_OPEN_URI | SQLITE_OPEN_EXRESCODE, nullptr);
        if (code != SQLITE_OK) throw SqlFailure{code, connection ? sqlite3_system_errno(connection) : 0, {}};
        sqlite3_busy_timeout(connection, static_cast<int>(patience.value * 1000.0));
        number("SELECT count(*) FROM sqlite_schema");  // the first read of the file
    }

    // In one transaction: on failure nothing of it is in the file.
    template <typename Work>
    void transaction(Work&& work) {
        run("BEGIN IMMEDIATE");
        try {
            work();
            run("COMMIT");
        } catch (...) {
            sqlite3_exec(connection, "ROLLBACK", nullptr, nullptr, nullptr);  // SQLite may have rolled back already
            throw;
        }
    }

    // The row with these values, made where there is none. Within a transaction, so that nobody else makes it
    // meanwhile.
    std::int64_t idOf(const std::string& insert, const std::string& select, const std::vector<Cell>& values) {
        Statement known(connection, select);
        for (const Cell& value : values) known.bind(value);
        if (known.next()) return known.whole(0);
        Statement add(connection, insert);
        for (const Cell& value : values) add.bind(value);
        add.finish();
        return sqlite3_last_insert_rowid(connection);
    }

    std::int64_t sittingId(const Sitting& sitting) {
        Statement known(connection, "SELECT id FROM sitting WHERE token = ?");
        if (known.bind(sitting.token).next()) return known.whole(0);
        const Guitar& guitar = sitting.guitar;
        const std::int64_t student =
            idOf("INSERT INTO student(name) VALUES(?)", "SELECT id FROM student WHERE name = ?", {sitting.student});
        const std::int64_t instrument = idOf(
            "INSERT INTO guitar(name, tuning, capo, highest_fret, left_handed, a4_hz, gauges_inch, plain_strings, "
            "scale_mm) "
            "VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?)",
            "SELECT id FROM guitar WHERE name = ? AND tuning = ? AND capo = ? AND highest_fret = ? AND left_handed = ? "
            "AND a4_hz = ? "
            "AND gauges_inch = ? AND plain_strings = ? AND scale_mm = ?",
            {guitar.name, listText(midiNumbers(guitar)), std::int64_t{guitar.capo}, std::int64_t{guitar.highestFret},
             guitar.leftHanded, guitar.a4.value, listText(guitar.gaugesInch), std::int64_t{guitar.plainStrings},
             guitar.scaleMm});
        Statement add(
            connection,
            "INSERT INTO sitting(token, student, guitar, started_ms, software, input) VALUES(?, ?, ?, ?, ?, ?)");
        add.bind(sitting.token).bind(student).bind(instrument);
        add.bind(static_cast<std::int64_t>(sitting.started.time_since_epoch().count()))
            .bind(sitting.software)
            .bind(sitting.input);
        add.finish();
        return sqlite3_last_insert_rowid(connection);
    }

    std::vector<std::string> drillsOf(std::int64_t sitting) {
        Statement row(connection, "SELECT drill FROM try WHERE sitting = ? GROUP BY drill ORDER BY min(number)");
        row.bind(sitting);
        std::vector<std::string> drills;
        while (row.next()) drills.push_back(row.text(0));
        return drills;
    }

    // The schema's version; the file is known to be a log, or empty.
    Result<void> bringForward(Log::Access access) {
        const auto tables = number("SELECT count(*) FROM sqlite_schema");
        if (tables == 0 && access == Log::Access::read)
            return Error{Error::Code::notFound,
                         fmt::format("there is no log in {} yet: it begins with the first try", file)};
        if (tables != 0 && number("PRAGMA application_id") != applicationId)
            return Error{Error::Code::badInput,
                         fmt::format("{} is a database of another program: name another log with --log FILE", file)};
        const auto version = number("PRAGMA user_version");
        if (version > schemaVersion)
            return Error{
                Error::Code::tooNew,
                fmt::format(
                    "the log {} was written by a newer Landfall (schema {}, this one knows {}): update Landfall, or "
                    "name another log with --log FILE",
                    file, version, schemaVersion)};
        if (version == schemaVersion) return {};
        if (sqlite3_db_readonly(connection, "main") == 1)
            return Error{
                Error::Code::unwritable,
                fmt::format(
                    "the log {} is of an older Landfall and cannot be brought forward because it cannot be written: "
                    "allow writing, or read a copy with --log FILE",
                    file)};
        transaction([&] {
            // Another program may have done it while this one waited for the lock.
            for (auto from = static_cast<int>(number("PRAGMA user_version")); from < schemaVersion; ++from)
                for (const std::string& sql : stepFrom(from)) run(sql);
            run(fmt::format("PRAGMA application_id = {}", applicationId));
            run(fmt::format("PRAGMA user_version = {}", schemaVersion));
        });
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
    const bool unclean = hasUnfinished(file);  // opening it may tidy that away
    auto ready = db.guarded([&]() -> Result<void> {
        try {
            db.connect(file, SQLITE_OPEN_READWRITE | (access == Access::write ? SQLITE_OPEN_CREATE : 0), "", patience);
        } catch (const SqlFailure& failure) {
            if (access == Access::write || (failure.code & 0xFF) == SQLITE_NOTADB
                || (failure.code & 0xFF) == SQLITE_BUSY)
                throw;
            // A WAL database in a folder that cannot be written has no place for its shared memory. Without a
            // write-ahead log beside it the file is complete, and nobody can be changing it: read it as it is.
            std::error_code ignored;
            const bool hasWal = std::filesystem::exists(file.string() + "-wal", ignored);
            db.connect(file, SQLITE_OPEN_READONLY, hasWal ? "" : "?immutable=1", patience);
        }
        if (access == Access::write && sqlite3_db_readonly(db.connection, "main") == 1)
            throw SqlFailure{SQLITE_READONLY, 0, {}};
        if (auto known = db.bringForward(access); !known) return known;
        if (access == Access::read) {
            // Who only looks leaves the sign of an unclean end for who writes next.
            if (unclean) sqlite3_db_config(db.connection, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr);
            return {};
        }
        if (unclean)
            if (const std::string verdict = db.text("PRAGMA quick_check(1)"); verdict != "ok")
                throw SqlFailure{SQLITE_CORRUPT, 0, {}};
        // a file system without shared memory answers another mode; it is as safe, but readers wait
        db.text("PRAGMA journal_mode = WAL");
        db.run("PRAGMA synchronous = FULL");
        // The write-ahead log is folded into the file now and every 100 pages (0.4 MB, some 25 tries), so that it does
        // not eat up a small disk. Where a reader is in the way this does nothing, and the next one does it.
        sqlite3_wal_checkpoint_v2(db.connection, nullptr, SQLITE_CHECKPOINT_TRUNCATE, nullptr, nullptr);
        db.number("PRAGMA wal_autocheckpoint = 100");
        db.run("PRAGMA foreign_keys = ON");
        return {};
    });
    if (!ready) return ready.error();
    return Log(std::move(opened));
}

Result<void> Log::put(const Sitting& sitting, const LoggedTry& oneTry) {
    return database->guarded([&]() -> Result<void> {
        database->transaction([&] {
            std::string places = "?";
            for (std::size_t i = 0; i < tryColumns().size(); ++i) places += ", ?";
            const std::int64_t id = database->sittingId(sitting);
            Statement add(
                database->connection,
                fmt::format("INSERT INTO try(sitting, {}) VALUES({}) ON CONFLICT(sitting, number) DO UPDATE SET "
                            "struck = excluded.struck, take_file = excluded.take_file, guess = excluded.guess",
                            columnNames(), places));
            add.bind(id);
            for (const TryColumn& column : tryColumns()) add.bind(column.get(oneTry));
            add.finish();
        });
        return {};
    });
}

Result<void> Log::setStruck(std::int64_t sittingId, int number, bool struck) {
    return database->guarded([&]() -> Result<void> {
        bool found = false;
        database->transaction([&] {
            Statement change(database->connection, "UPDATE try SET struck = ? WHERE sitting = ? AND number = ?");
            change.bind(struck).bind(sittingId).bind(std::int64_t{number});
            change.finish();
            found = sqlite3_changes(database->connection) == 1;
        });
        if (found) return {};
        return Error{Error::Code::notFound,
                     fmt::format("there is no try {}.{} in the log {}: `landfall log {}` shows the sitting's tries",
                                 sittingId, number, database->file, sittingId)};
    });
}

Result<std::vector<std::string>> Log::students() {
    return database->guarded([&]() -> Result<std::vector<std::string>> {
        std::vector<std::string> names;
        Statement row(database->connection, "SELECT name FROM student ORDER BY name");
        while (row.next()) names.push_back(row.text(0));
        return names;
    });
}

Result<std::vector<SittingSummary>> Log::sittings(const std::optional<std::string>& student) {
    return database->guarded([&]() -> Result<std::vector<SittingSummary>> {
        std::vector<SittingSummary> found;
        Statement row(database->connection,
                      fmt::format("{}{}ORDER BY s.started_ms, s.id", sittingQuery, student ? "WHERE p.name = ? " : ""));
        if (student) row.bind(*student);
        while (row.next()) found.push_back(readSitting(row));
        for (SittingSummary& summary : found) summary.drills = database->drillsOf(summary.id);
        return found;
    });
}

Result<SittingSummary> Log::sitting(std::int64_t id) {
    return database->guarded([&]() -> Result<SittingSummary> {
        Statement row(database->connection, fmt::format("{}WHERE s.id = ?", sittingQuery));
        if (!row.bind(id).next())
            return Error{
                Error::Code::notFound,
                fmt::format("there is no sitting {} in the log {}: `landfall log` lists them", id, database->file)};
        SittingSummary summary = readSitting(row);
        summary.drills = database->drillsOf(id);
        return summary;
    });
}

Result<std::vector<LoggedTry>> Log::lastTime(const std::string& student, const std::string& drill, std::int64_t token) {
    auto sitting = database->guarded([&]() -> Result<std::int64_t> {
        Statement row(
            database->connection,
            "SELECT s.id FROM sitting s JOIN student p ON p.id = s.student WHERE p.name = ? AND s.token <> ? AND "
            "EXISTS(SELECT 1 FROM try t WHERE t.sitting = s.id AND t.drill = ? AND NOT t.struck) "
            "ORDER BY s.started_ms DESC, s.id DESC LIMIT 1");
        return row.bind(student).bind(token).bind(drill).next() ? row.whole(0) : 0;
    });
    if (!sitting) return sitting.error();
    if (*sitting == 0) return std::vector<LoggedTry>{};
    auto all = tries(*sitting);
    if (all) std::erase_if(*all, [&](const LoggedTry& one) { return one.drill != drill || one.struck; });
    return all;
}

Result<std::vector<LoggedTry>> Log::tries(std::int64_t sittingId) {
    return database->guarded([&]() -> Result<std::vector<LoggedTry>> {
        std::vector<LoggedTry> found;
        Statement row(database->connection,
                      fmt::format("SELECT {} FROM try WHERE sitting = ? ORDER BY number", columnNames()));
        row.bind(sittingId);
        while (row.next()) {
            LoggedTry& one = found.emplace_back();
            int index = 0;
            for (const TryColumn& column : tryColumns())
                if (!column.set(one, row.cell(index++)))
                    throw SqlFailure{
                        SQLITE_CORRUPT, 0,
                        fmt::format("sitting {}, try {}: {} holds something else", sittingId, one.number, column.name)};
        }
        return found;
    });
}

}  // namespace landfall
