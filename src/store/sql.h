// SQLite behind one door: a connection, its statements, and what can go wrong in our words. What fails throws SqlFailure,
// which src/store turns into an Error. One thread.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>

#include "dsp/units.h"
#include "src/formats/table.h"
#include "src/system/result.h"

struct sqlite3;
struct sqlite3_stmt;

namespace landfall {

struct SqlFailure {
    int code = 1;  // extended, as sqlite3.h names it
    int systemError = 0;
    std::string detail{};  // our own words; the library's are for programmers

    static SqlFailure damaged(std::string detail = {});
    static SqlFailure unwritable();
    bool isBusy() const;
    bool isNoDatabase() const;
    bool isDamage() const;
};

// One line that names the file and says what to do.
Error errorOf(const std::string& file, const SqlFailure& failure);

class Statement {
public:
    Statement(sqlite3* connection, const std::string& sql);
    Statement(const Statement&) = delete;
    Statement& operator=(const Statement&) = delete;
    ~Statement();

    Statement& bind(const Cell& cell);  // the next place
    Statement& bindBytes(std::string_view bytes);
    bool next();  // whether there is a row
    void finish();
    void again();  // from the beginning, with nothing bound

    Cell cell(int column);
    bool isFilled(int column);
    std::int64_t whole(int column);
    double real(int column);
    std::string text(int column);
    std::string bytes(int column);

private:
    void check(int code);
    [[noreturn]] void fail();

    sqlite3* db = nullptr;
    sqlite3_stmt* handle = nullptr;
    int bound = 0;
};

class Connection {
public:
    enum class Mode { make, write, read };

    Connection() = default;
    Connection(const Connection&) = delete;
    Connection& operator=(const Connection&) = delete;
    ~Connection();

    // Anew where it is open. `query` is the URI's. Reads the file's beginning.
    void open(const std::filesystem::path& path, Mode mode, std::string_view query, Seconds patience);
    // A file from elsewhere, as it lies there and whatever lies beside it: read only, nothing in it is carried out, no
    // value over 64 MB.
    void openForeign(const std::filesystem::path& path);
    sqlite3* handle() const { return db; }

    void run(const std::string& sql);
    // The first value of the first row; the statement is carried out to its end.
    std::string text(const std::string& sql);
    std::int64_t number(const std::string& sql);
    std::int64_t lastRow() const;
    int changes() const;
    bool isReadOnly() const;
    // The write-ahead log stays beside the file when this connection closes.
    void leaveWriteAheadLog();
    // Folds the write-ahead log into the file, where no reader is in the way.
    void foldWriteAheadLog();
    // In one transaction: on failure nothing of it is in the file.
    template <typename Work>
    void transaction(Work&& work) {
        run("BEGIN IMMEDIATE");
        try {
            work();
            run("COMMIT");
        } catch (...) {
            rollBack();
            throw;
        }
    }

private:
    void rollBack();
    void connect(const std::filesystem::path& path, int flags, std::string_view query);
    sqlite3* db = nullptr;
};

}  // namespace landfall
