#include "src/review/lesson_review.h"

#include <algorithm>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/practice/words.h"
#include "src/review/glance.h"
#include "src/review/report_drawings.h"
#include "src/store/lessons.h"

namespace landfall {

namespace {

constexpr std::size_t mostSaid = 3;

// Whole kinds are judged by the days' means, of which an interval takes three.
std::string leanOf(const KindReview& kind) {
    if (kind.measured == 0) return "";
    std::string usually = fmt::format(", usually {:.0f} ¢ off", kind.typicalMiss);
    if (!kind.doubt) return usually;
    return fmt::format("{}; on the whole {}, sure to within {:.0f}", usually, leaning(kind.bias),
                       saidDoubt(*kind.doubt));
}

}  // namespace

Result<LessonReview> lessonReview(Log& log, const Student& student, CalendarTime now) {
    LessonReview found;
    auto notes = notesOf(log, student);
    if (!notes) return notes.error();
    const auto lessons = keptLessons(log, student);
    if (!lessons) return lessons.error();
    const auto was = [&](CalendarTime time) {
        if (dayText(time) < dayText(now) && (!found.since || time > *found.since)) found.since = time;
    };
    for (const KeptNote& note : *notes)
        if (note.sitting == 0) was(note.written);
    for (const KeptLesson& lesson : *lessons) was(lesson.received);
    found.notes = std::move(*notes);
    auto read = review(log, student, found.since);
    if (!read) return read.error();
    found.review = std::move(*read);
    return found;
}

std::string practisedWords(const StudentReview& review) {
    std::vector<std::string> said;
    for (const TaskReview& each : review.tasks) {
        if (said.size() == mostSaid) break;
        said.push_back(fmt::format("{} {}", each.name, counted(each.tries, "try", "tries")));
    }
    if (review.tasks.size() > mostSaid) said.push_back(fmt::format("and {} more", review.tasks.size() - mostSaid));
    return fmt::format("{}", fmt::join(said, ", "));
}

std::string bestWords(const StudentReview& review) {
    const KindReview* best = nullptr;
    const auto isBetter = [](const KindReview& a, const KindReview& b) {
        return a.inside * b.tries > b.inside * a.tries;
    };
    for (const KindReview& kind : review.kinds)
        if (kind.tries >= leastForPlace && kind.inside > 0 && (best == nullptr || isBetter(kind, *best))) best = &kind;
    if (best == nullptr)
        return fmt::format("Too early: it takes {} tries of a kind to say what lands best.", leastForPlace);
    return fmt::format("{}: {} of {} inside the aim{}.", capitalised(nameOf(best->kind)), best->inside, best->tries,
                       leanOf(*best));
}

std::string faultWords(const StudentReview& review) {
    if (const std::string place = worstPlace(review); !place.empty())
        return capitalised(place) + ", over all that was played lately.";
    if (const KindReview* dies = diesOften(review))
        return fmt::format("{}: {} of {} died on the way.", capitalised(nameOf(dies->kind)), dies->lost, dies->tries);
    return "No place stands out from chance.";
}

std::string changedWords(const StudentReview& review) {
    for (const KindReview& kind : review.kinds)
        for (const Progress& each : review.progress)
            if (each.kind == kind.kind) return fmt::format("{}: {}", capitalised(nameOf(kind.kind)), wordsOf(each));
    return "";
}

}  // namespace landfall
