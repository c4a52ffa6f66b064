#include "src/review/lesson_review.h"

#include <doctest/doctest.h>

#include "src/review/glance.h"
#include "src/store/lessons.h"
#include "src/store/students.h"
#include "tests/support/command.h"
#include "tests/support/invented_practice.h"

using namespace landfall;

namespace {

constexpr auto day = std::chrono::hours(24);
const CalendarTime now = calendarNow();

struct Practised {
    explicit Practised(int sittings, int tries = 30)
        : log(std::move(*Log::open(folder / "log.sqlite", Log::Access::write))) {
        REQUIRE(inventPractice(log, "Ines", now - 40 * day, sittings, tries, 3));
        ines = *findStudent(log, "Ines");
    }
    LessonReview read() {
        auto found = lessonReview(log, ines, now);
        REQUIRE_MESSAGE(found, found.error().message);
        return *found;
    }
    void note(CalendarTime written, std::int64_t sitting = 0) {
        REQUIRE(keepNote(log, ines, {.sitting = sitting, .written = written, .text = "said"}));
    }

    const TestFolder folder;
    Log log;
    Student ines;
};

}  // namespace

TEST_CASE("the last lesson is the last day before today with a note on one or with homework; else all of it is told") {
    Practised ines(20);
    CHECK_FALSE(ines.read().since);
    CHECK(ines.read().review.sittings.size() == 20);
    ines.note(now - 2 * day, 3);  // on a sitting: no lesson
    CHECK_FALSE(ines.read().since);
    ines.note(now);  // in this lesson
    CHECK_FALSE(ines.read().since);
    ines.note(now - 20 * day);
    CHECK(ines.read().since == now - 20 * day);
    CHECK(ines.read().notes.size() == 3);
    const LessonReview since = ines.read();
    CHECK(since.review.sittings.size() < 20);
    for (const SittingSummary& each : since.review.sittings) CHECK(each.sitting.started >= *since.since);
    REQUIRE(keepLesson(ines.log, ines.ines, {"Week 3", now - 10 * day, "", true}));  // put away since
    CHECK(ines.read().since == now - 10 * day);
    REQUIRE(keepLesson(ines.log, ines.ines, {"Week 4", now, "", false}));  // given in this lesson
    CHECK(ines.read().since == now - 10 * day);
}

TEST_CASE("what lands best is said of twenty tries and more, the fault with its doubt, and no trend before its time") {
    Practised ines(2, 9);
    StudentReview few = ines.read().review;
    CHECK(bestWords(few) == "Too early: it takes 20 tries of a kind to say what lands best.");
    CHECK(faultWords(few) == "No place stands out from chance.");
    CHECK(changedWords(few).find("Too early for a trend.") != std::string::npos);

    Practised long_(30, 48);
    const StudentReview review = long_.read().review;
    const KindReview* best = nullptr;
    for (const KindReview& kind : review.kinds)
        if (kind.tries >= 20 && (!best || kind.inside * best->tries > best->inside * kind.tries)) best = &kind;
    REQUIRE(best);
    const std::string words = bestWords(review);
    CHECK_MESSAGE(words.find(std::to_string(best->inside) + " of " + std::to_string(best->tries) + " inside the aim")
                      != std::string::npos,
                  words);
    // The same place as the teacher's list names, with the same doubt.
    REQUIRE_FALSE(worstPlace(review).empty());
    CHECK(worstPlace(review) == glanceOf(review, now).worst);
    CHECK(faultWords(review).find("sure to within") != std::string::npos);
    CHECK(practisedWords(review).find(" tries") != std::string::npos);
}

TEST_CASE("where nothing was played since the lesson the fault is still known, of all that was played") {
    Practised ines(30, 48);
    ines.note(now - 1 * day);
    const LessonReview read = ines.read();
    CHECK(read.review.sittings.empty());
    CHECK(read.review.examples.empty());
    CHECK(practisedWords(read.review).empty());
    CHECK(faultWords(read.review).find("sure to within") != std::string::npos);
}
