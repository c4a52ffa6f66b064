// One student as their teacher meets them in a list: how long ago they played, what lands worst, what to ask about, and
// how much they need a look. Plain functions, any thread.
#pragma once

#include <optional>
#include <string>

#include "src/review/student_review.h"

namespace landfall {

struct Glance {
    Student student;
    std::optional<CalendarTime> last;  // when the last sitting began
    int lately = 0;                    // days of practice among the last fourteen
    // "full step bends at G 7 land 14 under, sure to within 4": the place that stands out most; or why none does
    std::string worst;
    std::string ask;       // one sentence; empty: nothing stands out
    std::string homework;  // "homework 1 of 3", of the lesson given last; empty: none
    double need = 0.0;     // of a look, from 0; larger ones stand first
};

// "full step bends at G 7 land 14 under, sure to within 4": the place that stands out most; empty: none does.
std::string worstPlace(const StudentReview& review);
// A kind of move of which too many died on the way; null: none.
const KindReview* diesOften(const StudentReview& review);

// Of the review of all that is known, so that the list says what the report does.
Glance glanceOf(const StudentReview& review, CalendarTime now);

}  // namespace landfall
