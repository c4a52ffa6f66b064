// The lessons that a student was given, kept with the log as their files came. Plain functions, on the log's thread;
// each change is one transaction.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "src/store/log.h"

namespace landfall {

struct KeptLesson {
    std::string title;
    CalendarTime received;  // what is played from then on counts for it
    std::string content;    // of the lesson file
    bool putAway = false;   // it is homework no longer
};

// In place of the one of the same title. The same file again changes nothing of what counts for it.
Result<void> keepLesson(Log& log, const Student& student, const KeptLesson& lesson);
// The same in a log that may not be there yet, for a student who may not have played yet.
Result<void> keepLessonFor(const std::filesystem::path& log, const std::string& student, const KeptLesson& lesson);
Result<std::vector<KeptLesson>> keptLessons(Log& log, const Student& student);  // the last one given first
// False: there is none of that title.
Result<bool> putAwayLesson(Log& log, const Student& student, const std::string& title, bool putAway);

}  // namespace landfall
