// The drawings of a report as inline SVG. Their words are in ink, never in a colour alone. Plain functions, any thread.
#pragma once

#include <string>
#include <string_view>

#include "src/review/student_review.h"

namespace landfall {

// Text from outside as text of HTML and of attributes in double quotes.
std::string escaped(std::string_view text);

// The same, cut to so many characters with an ellipsis, so that one name cannot fill the page.
std::string escapedBriefly(std::string_view text, std::size_t most = 40);

// "14 under", "3 over", "on it"
std::string leaning(double cents);

// Of one kind of move, with its name: each played place of the neck with its sign and doubt, or with how often it was
// tried. A long neck has the page's width.
std::string neckFigure(const StudentReview& review, const MoveKind& kind);
// One try over time against its target and the aim.
std::string curveDrawing(const Example& example);
// Where each day's first tries and its later ones landed.
std::string daysDrawing(const Progress& progress);

}  // namespace landfall
