// What a teacher or a student wrote of a try, of a sitting, or of a lesson held. Plain functions, on the log's thread;
// each change is one transaction.
#pragma once

#include <string>
#include <vector>

#include "src/store/log.h"

namespace landfall {

struct KeptNote {
    std::string uuid{};
    std::int64_t sitting = 0;  // 0: of a lesson with the student
    int number = 0;            // of its try; 0: of the whole sitting
    CalendarTime written = calendarNow();
    std::string text;
};
std::string subjectOf(const KeptNote& note);  // "the lesson", "sitting 3", "try 3.12"
constexpr std::size_t longestNote = 240;      // characters: two lines of a window

// A note without a UUID is a new one, else this is its text from now on. Without text it is taken back: it is shown no
// more, and no import brings it back.
Result<void> keepNote(Log& log, const Student& student, const KeptNote& note);
Result<std::vector<KeptNote>> notesOf(Log& log, const Student& student);  // the newest first
Result<std::vector<KeptNote>> notesOn(Log& log,
                                      std::int64_t sitting);  // of the sitting first, then by try; oldest first

}  // namespace landfall
