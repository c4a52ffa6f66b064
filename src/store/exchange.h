// One student's practice as one file, for another log to take in: what goes out, and a merge that can be repeated.
// doc/exchange.md has the file's tables. Plain functions, on the log's thread.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "src/store/log.h"

namespace landfall {

struct Outgoing {
    int sittings = 0, tries = 0, curves = 0, tasks = 0, notes = 0;
    std::vector<std::string> guitars;
    std::optional<CalendarTime> first, last;  // sitting
    int takes = 0, missingTakes = 0;          // kept sounds; those whose file is gone or over `mostTakeBytes`
    std::uintmax_t takeBytes = 0;
};
Result<Outgoing> outgoing(Log& log, const Student& student, std::optional<CalendarTime> since);

// Whole or not there, readable by its owner only; fails where there is such a file already.
Result<void> exportStudent(Log& log, const Student& student, std::optional<CalendarTime> since, bool takes,
                           const std::filesystem::path& to);

struct Incoming {
    Student student;  // as the log calls them now
    bool newStudent = false;
    int newSittings = 0, newTries = 0, knownTries = 0, takes = 0, newNotes = 0;
    std::vector<std::string> conflicts;  // one line each: what the log kept as it was, or had to call otherwise
};
// Takes in what is not there yet, by UUID, token and number; a second time changes nothing. In one transaction: broken
// off it leaves no trace (of sounds: none once the next import or check has begun). The file is a stranger's: it is read
// only, and refused as a whole where anything in it is not what an export writes.
Result<Incoming> importFile(Log& log, const std::filesystem::path& from);

// Sounds of an import that was broken off: put where their tries look for them, or away. Within a transaction.
void settleArrivals(Connection& sql, const std::filesystem::path& folder);

constexpr std::uintmax_t mostTakeBytes = 32 << 20;  // a try of 30 s at 192 kHz has 17 MB at the most

}  // namespace landfall
