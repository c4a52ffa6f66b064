#include "src/store/sql.h"

#include <cerrno>
#include <cstdlib>
#include <system_error>

#include <fmt/core.h>
#include <sqlite3.h>

namespace landfall {

namespace {

int kindOf(int code) { return code & 0xFF; }

bool isDiskFull(const SqlFailure& failure) {
    return (failure.code & 0xFF) == SQLITE_FULL
           || (((failure.code & 0xFF) == SQLITE_IOERR || (failure.code & 0xFF) == SQLITE_CANTOPEN)
               && (failure.systemError == ENOSPC || failure.systemError == EDQUOT || failure.systemError == EFBIG));
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

SqlFailure SqlFailure::damaged(std::string detail) { return {SQLITE_CORRUPT, 0, std::move(detail)}; }
SqlFailure SqlFailure::unwritable() { return {SQLITE_READONLY, 0, {}}; }
bool SqlFailure::isBusy() const { return kindOf(code) == SQLITE_BUSY || kindOf(code) == SQLITE_LOCKED; }
bool SqlFailure::isNoDatabase() const { return kindOf(code) == SQLITE_NOTADB; }
bool SqlFailure::isDamage() const { return kindOf(code) == SQLITE_CORRUPT || isNoDatabase(); }

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

Statement::Statement(sqlite3* connection, const std::string& sql) : db(connection) {
    check(sqlite3_prepare_v2(db, sql.c_str(), static_cast<int>(sql.size()), &handle, nullptr));
}

Statement::~Statement() { sqlite3_finalize(handle); }

Statement& Statement::bind(const Cell& cell) {
    const int at = ++bound;
    if (const auto* truth = std::get_if<bool>(&cell)) check(sqlite3_bind_int64(handle, at, *truth));
    else if (const auto* whole = std::get_if<std::int64_t>(&cell)) check(sqlite3_bind_int64(handle, at, *whole));
    else if (const auto* real = std::get_if<double>(&cell)) check(sqlite3_bind_double(handle, at, *real));
    else if (const auto* text = std::get_if<std::string>(&cell))
        check(sqlite3_bind_text64(handle, at, text->data(), text->size(), SQLITE_TRANSIENT, SQLITE_UTF8));
    else check(sqlite3_bind_null(handle, at));
    return *this;
}

Statement& Statement::bindBytes(std::string_view bytes) {
    check(sqlite3_bind_blob64(handle, ++bound, bytes.data(), bytes.size(), SQLITE_TRANSIENT));
    return *this;
}

bool Statement::next() {
    const int code = sqlite3_step(handle);
    if (code != SQLITE_ROW && code != SQLITE_DONE) fail();
    return code == SQLITE_ROW;
}

void Statement::finish() {
    while (next()) {
    }
}

void Statement::again() {
    sqlite3_reset(handle);
    sqlite3_clear_bindings(handle);
    bound = 0;
}

Cell Statement::cell(int column) {
    switch (sqlite3_column_type(handle, column)) {
        case SQLITE_INTEGER: return static_cast<std::int64_t>(sqlite3_column_int64(handle, column));
        case SQLITE_FLOAT: return sqlite3_column_double(handle, column);
        case SQLITE_NULL: return {};
        default: return text(column);
    }
}

bool Statement::isFilled(int column) { return sqlite3_column_type(handle, column) != SQLITE_NULL; }
std::int64_t Statement::whole(int column) { return sqlite3_column_int64(handle, column); }
double Statement::real(int column) { return sqlite3_column_double(handle, column); }

std::string Statement::text(int column) {
    const auto* bytes = reinterpret_cast<const char*>(sqlite3_column_text(handle, column));
    return bytes ? std::string(bytes, static_cast<std::size_t>(sqlite3_column_bytes(handle, column))) : std::string();
}

std::string Statement::bytes(int column) {
    const auto* bytes = static_cast<const char*>(sqlite3_column_blob(handle, column));
    return bytes ? std::string(bytes, static_cast<std::size_t>(sqlite3_column_bytes(handle, column))) : std::string();
}

void Statement::check(int code) {
    if (code != SQLITE_OK) fail();
}

// SQLite notes the system's error where it opens a file; of a failed write only errno still knows.
void Statement::fail() {
    const int systemError = errno;
    const int code = sqlite3_extended_errcode(db);
    const bool failedInput = kindOf(code) == SQLITE_IOERR || kindOf(code) == SQLITE_CANTOPEN;
    throw SqlFailure{code, failedInput ? systemError : 0, {}};
}

Connection::~Connection() { sqlite3_close_v2(db); }

void Connection::connect(const std::filesystem::path& path, int flags, std::string_view query) {
    sqlite3_close_v2(db);
    db = nullptr;
    // One thread uses it, so that it needs no lock at each value that is read.
    const int code = sqlite3_open_v2(uriOf(path, query).c_str(), &db,
                                     flags | SQLITE_OPEN_URI | SQLITE_OPEN_EXRESCODE | SQLITE_OPEN_NOMUTEX, nullptr);
    if (code != SQLITE_OK) throw SqlFailure{code, db ? sqlite3_system_errno(db) : 0, {}};
}

void Connection::open(const std::filesystem::path& path, Mode mode, std::string_view query, Seconds patience) {
    connect(path,
            (mode == Mode::read ? SQLITE_OPEN_READONLY : SQLITE_OPEN_READWRITE)
                | (mode == Mode::make ? SQLITE_OPEN_CREATE : 0),
            query);
    sqlite3_busy_timeout(db, static_cast<int>(patience.value * 1000.0));
    number("SELECT count(*) FROM sqlite_schema");  // the first read of the file
}

// "Defense Against The Dark Arts", sqlite.org/security.html
void Connection::openForeign(const std::filesystem::path& path) {
    connect(path, SQLITE_OPEN_READONLY, "?immutable=1");
    sqlite3_db_config(db, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
    sqlite3_db_config(db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
    sqlite3_db_config(db, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, nullptr);
    sqlite3_db_config(db, SQLITE_DBCONFIG_ENABLE_VIEW, 0, nullptr);
    sqlite3_limit(db, SQLITE_LIMIT_LENGTH, 64 << 20);
    sqlite3_limit(db, SQLITE_LIMIT_ATTACHED, 0);
    run("PRAGMA cell_size_check = ON");
    run("PRAGMA mmap_size = 0");
    number("SELECT count(*) FROM sqlite_schema");
}

void Connection::run(const std::string& sql) {
    Statement statement(db, sql);
    statement.finish();
}

std::string Connection::text(const std::string& sql) {
    Statement statement(db, sql);
    std::string first = statement.next() ? statement.text(0) : "";
    statement.finish();
    return first;
}

std::int64_t Connection::number(const std::string& sql) { return std::strtoll(text(sql).c_str(), nullptr, 10); }
std::int64_t Connection::lastRow() const { return sqlite3_last_insert_rowid(db); }
int Connection::changes() const { return sqlite3_changes(db); }
bool Connection::isReadOnly() const { return sqlite3_db_readonly(db, "main") == 1; }

void Connection::leaveWriteAheadLog() { sqlite3_db_config(db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr); }

void Connection::foldWriteAheadLog() {
    sqlite3_wal_checkpoint_v2(db, nullptr, SQLITE_CHECKPOINT_TRUNCATE, nullptr, nullptr);
}

void Connection::rollBack() {
    sqlite3_exec(db, "ROLLBACK", nullptr, nullptr, nullptr);  // SQLite may have rolled back already
}

}  // namespace landfall
