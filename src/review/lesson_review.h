// One student as their teacher meets them in a lesson: what happened since the last one, what lands best and what to
// mend. Reads the log; slow enough for a thread of its own.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "src/review/student_review.h"

namespace landfall {

struct LessonReview {
    std::optional<CalendarTime> since;  // the last lesson; empty: none is known, and all of it is told
    StudentReview review;               // since then
    std::vector<KeptNote> notes;        // whenever they were written, the newest first
};

// The last lesson was on the last day before today when a note on a lesson was written, or homework was given.
Result<LessonReview> lessonReview(Log& log, const Student& student, CalendarTime now);

// One or two sentences each, of the time since.
std::string practisedWords(const StudentReview& review);  // "Half up 60 tries, Whole up 42, and 2 more"
// The kind of move most of which were inside the aim, of those tried often enough to say.
std::string bestWords(const StudentReview& review);
// One fault, with how sure it is: the place that stands out, else what dies often.
std::string faultWords(const StudentReview& review);
// Of what was played most, whether it may be said to have changed.
std::string changedWords(const StudentReview& review);

}  // namespace landfall
