// The practice log: one SQLite file of students, guitars, sittings and tries. A Log is used by one thread; other
// threads and programs open their own.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "src/practice/tally.h"
#include "src/store/logged_try.h"
#include "src/store/try_curve.h"
#include "src/system/result.h"

namespace landfall {

class Connection;

// A sitting as the file knows it.
struct SittingSummary {
    std::int64_t id = 0;  // what `landfall log` calls it
    Sitting sitting;
    std::vector<std::string> drills;  // in the order first played
    std::vector<GestureTally> gestures{};
};

// Two may have one name. Who is archived is offered no longer, and is back with the next try.
struct Student {
    std::string uuid;
    std::string name;
    bool archived = false;
};

struct TryInSitting {
    std::int64_t sitting = 0;
    LoggedTry oneTry;
};

// What was found by a look at everything in the log.
struct LogCheck {
    std::int64_t students = 0, sittings = 0, tries = 0, curves = 0;
    std::int64_t missingTakes = 0;           // kept sounds whose file is gone
    std::vector<std::string> mended, wrong;  // one line each
};

class Log {
public:
    enum class Access { read, write };
    static constexpr int schemaVersion = 8;

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
    // Several in one transaction.
    Result<void> putAll(const Sitting& sitting, std::span<const LoggedTry> tries);

    // "Discard that", and taking it back.
    Result<void> setStruck(std::int64_t sittingId, int number, bool struck);

    // Reads everything, and mends what can be made anew from the rest: indexes, kept figures, curves without a try or
    // that are none, rights. For a log opened to write.
    Result<LogCheck> check();
    // A copy of all that is in the log at this moment, while others read and write; whole or not there. Fails where
    // there is such a file already.
    Result<void> backup(const std::filesystem::path& to);

    Result<std::vector<Student>> students();  // by name
    Result<Student> addStudent(const std::string& name);
    Result<void> change(const Student& student);  // name and archived, of the one with this UUID

    // Figures of whole sittings are kept in the file and go when one of their tries changes, so that a list costs
    // milliseconds however many tries it stands for.
    Result<std::vector<SittingSummary>> sittings(const std::optional<std::string>& student = {});  // oldest first
    Result<SittingSummary> sitting(std::int64_t id);
    Result<std::optional<std::int64_t>> lastSitting();  // its number; empty: none yet
    Result<std::optional<CalendarTime>> firstSitting(const std::string& student);
    // Of the last sitting before this one in which the student played the drill, its tries of that drill.
    Result<std::vector<LoggedTry>> lastTime(const std::string& student, const std::string& drill, std::int64_t token);
    // In the order played, struck ones too; without curve and task, which the next two read.
    Result<std::vector<LoggedTry>> tries(std::int64_t sittingId);
    // Of one student, oldest first, without drills and figures.
    Result<std::vector<SittingSummary>> sittingsOf(const Student& student);
    // Hands over each try of a student's sittings that began then or later, in the order played, with what figures are
    // made of: what was asked, first stop, arrival, verdict; everything else of it is as of no try.
    // landings: what was asked, on which aim and target, verdict, first stop and landing alone.
    enum class Columns { figures, landings };
    Result<void> eachTry(const Student& student, CalendarTime from,
                         const std::function<void(std::int64_t sitting, const LoggedTry&)>& wanted,
                         Columns columns = Columns::figures);
    // Of the last sitting of the same student before this one with a try of that gesture, width and place: its number.
    Result<std::optional<std::int64_t>> sittingBefore(std::int64_t sittingId, const Move& move);
    // Of one drill or phrase, played then or later, in the order played; no struck ones.
    Result<std::vector<TryInSitting>> triesOfDrill(const Student& student, const std::string& drill, CalendarTime from);
    Result<std::optional<TryCurve>> curve(std::int64_t sittingId, int number);
    Result<std::optional<Task>> taskOf(std::int64_t sittingId, int number);
    // Where its take is: beside the log it is named from there, so that both can be moved together. Empty: none.
    std::filesystem::path takeOf(const LoggedTry& oneTry) const;
    const std::filesystem::path& folder() const;  // where the log lies, absolute

    // For src/store alone: statements of its own, whose failure becomes this log's error.
    Result<void> withSql(const std::function<void(Connection&)>& work);

private:
    struct Database;
    explicit Log(std::unique_ptr<Database> database);
    std::unique_ptr<Database> database;
};

}  // namespace landfall
