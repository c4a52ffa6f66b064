// A lesson: what a teacher asks a student to practise until the next one, drills and phrases in an order, each with its
// goals. Plain values, any thread.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "src/music/drill.h"
#include "src/music/line.h"

namespace landfall {

struct LessonTask {
    std::variant<Drill, Line> what;
    int tries = 1;                  // so many in all; of a phrase: passes
    std::optional<Cents> aim{};     // empty: the student's own
    std::optional<int> inside{};    // so many in a hundred of the last `tries`, within the aim
    std::optional<double> tempo{};  // of a phrase, quarters a minute: to be reached in one pass
    std::string note{};             // to the student, one line
    bool isPhrase() const { return std::holds_alternative<Line>(what); }
    const std::string& name() const { return isPhrase() ? std::get<Line>(what).title : std::get<Drill>(what).name; }
};

struct Lesson {
    std::string title;
    std::string from{}, note{};  // the teacher; to the student, one line
    std::vector<LessonTask> tasks;
};

}  // namespace landfall
