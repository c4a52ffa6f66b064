// A student's review as one HTML file that needs nothing else: words and inline SVG, no script, nothing fetched; well
// formed XML too. Two pages of A4 or Letter. Plain functions, any thread.
#pragma once

#include <string>

#include "src/review/student_review.h"

namespace landfall {

// `now`: the day it is made.
std::string reportPage(const StudentReview& review, CalendarTime now);

// The same figures as tables, for --csv and --json; doc/report.md has every column.
std::string reportAsJson(const StudentReview& review);
std::string reportAsCsv(const StudentReview& review);

}  // namespace landfall
