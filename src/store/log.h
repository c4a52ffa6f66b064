// The practice log: one SQLite file of students, guitars, sittings and tries. A Log is used by one thread; other
// threads and programs open their own.
#pragma once

#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "src/store/logged_try.h"
#include "src/system/result.h"

namespace landfall {

// A sitting as the file knows it.
struct SittingSummary {
    std::int64_t id = 0;  // what `landfall log` calls it
    Sitting sitting;
    std::vector<std::string> drills;  // in the order first played
};

class Log {
public:
    enum class Access { read, write };
    static constexpr int schemaVersion = 3;

    // write: makes the file where there is none (not its folder), brings an older schema forward, and checks the whole
    // file first where the last sitting ended without closing it. A file cut short is found out always, a damaged page
    // at the latest where it is read. read: never makes a file; an older schema is brought forward where the file may
    // be written. A file that another program holds is waited for `patience` long, here and in every call below.
    static Result<Log> open(const std::filesystem::path& file, Access access, Seconds patience = Seconds(3.0));

    Log(Log&&) noexcept;
    Log& operator=(Log&&) noexcept;
    ~Log();

    // Writes one try in one transaction, together with its student, guitar and sitting where they are new. On return it
    // is on the disk (WAL with synchronous = FULL: the write-ahead log is synced at each commit, so a power cut loses
    // no more than a kill does). A try that is there already only has its `struck` and `takeFile` brought up to date,
    // so that writing again is harmless.
    Result<void> put(const Sitting& sitting, const LoggedTry& oneTry);

    // "Discard that", and taking it back.
    Result<void> setStruck(std::int64_t sittingId, int number, bool struck);

    Result<std::vector<std::string>> students();
    Result<std::vector<SittingSummary>> sittings(const std::optional<std::string>& student = {});  // oldest first
    Result<SittingSummary> sitting(std::int64_t id);
    // Of the last sitting before this one in which the student played the drill, its tries of that drill.
    Result<std::vector<LoggedTry>> lastTime(const std::string& student, const std::string& drill, std::int64_t token);
    Result<std::vector<LoggedTry>> tries(std::int64_t sittingId);  // in the order played, struck ones too

private:
    struct Database;
    explicit Log(std::unique_ptr<Database> database);
    std::unique_ptr<Database> database;
};

}  // namespace landfall
