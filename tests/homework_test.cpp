#include "src/review/homework.h"

#include <doctest/doctest.h>

#include "src/formats/drill_file.h"
#include "src/formats/phrase_file.h"
#include "src/practice/line_marks.h"
#include "src/review/report_page.h"
#include "src/store/lessons.h"
#include "src/store/students.h"
#include "tests/support/command.h"

using namespace landfall;

namespace {

const CalendarTime monday{std::chrono::milliseconds(1'804'000'000'000)};

const std::string week =
    "title = \"Week 3\"\nfrom = \"Mara Quill\"\n[[task]]\ndrill = \"Half up\"\ntries = 8\ninside = 60\naim = 20\n"
    "[[task]]\nphrase = \"Lantern Street\"\npasses = 2\ntempo = 60\n";

class Practice {
public:
    Practice() {
        auto made = Log::open(folder / "log.sqlite", Log::Access::write);
        REQUIRE(made);
        log.emplace(std::move(*made));
        student = *log->addStudent("Ines");
        sitting.student = "Ines";
        sitting.started = monday;
    }
    // `error` from the target, cents.
    void bend(double error, bool guided = false, const std::string& drill = "Half up") {
        Landing landing;
        landing.move = {Gesture::bend, MidiPitch(67), MidiPitch(68), NeckPlace{2, 8}, {}};
        landing.landingError = landing.firstStopError = Cents(error);
        landing.verdict = Verdict::near;
        put({.number = 0, .drill = drill, .landing = landing, .guided = guided, .takeFile = {}, .pass = ++pass});
    }
    // A whole pass: so many of its tries inside, the rest missed or never played.
    void playPass(const Line& line, int inside, double tempo) {
        ++pass;
        int left = inside;
        for (std::size_t i = 0; i < line.moves.size() && left > 0; ++i) {
            const GestureKind& kind = kindOf(line.moves[i].move.gesture);
            if (kind.onlyInLines || !(kind.bends || kind.overFrets)) continue;
            Landing landing;
            landing.moveNumber = static_cast<int>(i) + 1;
            landing.move = line.moves[i].move;
            landing.landingError = landing.firstStopError = Cents(3.0);
            landing.landedFret = landing.move.targetFret;
            landing.verdict = Verdict::near;
            put({.number = 0, .drill = line.title, .landing = landing, .takeFile = {}, .pass = pass, .tempo = tempo});
            --left;
        }
    }
    Homework homework() {
        auto all = homeworkOf(*log, student);
        REQUIRE_MESSAGE(all, all.error().message);
        REQUIRE(all->size() == 1);
        return all->front();
    }
    void give(const std::string& lesson) { REQUIRE(keepLesson(*log, student, {"Week 3", monday, lesson, false})); }

    const TestFolder folder;
    std::optional<Log> log;
    Student student;

private:
    void put(LoggedTry one) {
        one.number = ++number;
        one.at = monday + std::chrono::seconds(10 * number);
        REQUIRE(log->put(sitting, one));
    }
    Sitting sitting;
    int number = 0, pass = 0;
};

}  // namespace

TEST_CASE("of a drill the tries made stand beside those asked, and what of the last ones was inside the aim asked") {
    Practice ines;
    ines.give(week);
    CHECK(doneWords(ines.homework().tasks[0]) == "not begun");
    CHECK(askedWords(ines.homework().tasks[0]) == "8 tries, 60 % inside ±20 cents");
    for (const double error : {22.0, -24.0, 10.0}) ines.bend(error, true);  // guided
    for (const double error : {22.0, 5.0, -19.0}) ines.bend(error);
    ines.bend(1.0, false, "Whole up");
    const TaskDone begun = ines.homework().tasks[0];
    CHECK(begun.tries == 6);
    CHECK(begun.counted == 3);
    CHECK(begun.inside == 2);
    CHECK_FALSE(begun.isDone());
    CHECK(doneWords(begun) == "6 of 8 tries, 2 of the last 3 inside");
    // Enough tries, too few of them inside; then what was played first falls out of the last eight.
    for (const double error : {30.0, 30.0}) ines.bend(error);
    CHECK(ines.homework().tasks[0].tries == 8);
    CHECK_FALSE(ines.homework().tasks[0].isDone());
    for (int i = 0; i < 6; ++i) ines.bend(4.0);
    const TaskDone done = ines.homework().tasks[0];
    CHECK(done.counted == 8);
    CHECK(done.inside == 6);
    CHECK(done.isDone());
    CHECK(doneWords(done) == "done: 14 tries, 6 of the last 8 inside");
}

TEST_CASE("of a phrase whole passes count, and a tempo is reached by one of which enough is inside") {
    Practice ines;
    ines.give(week);
    const Line line = phraseNamed("Lantern Street")->line;
    const int moves = triesIn(line);
    REQUIRE(moves > 4);
    ines.playPass(line, moves / 2, 80.0);
    TaskDone task = ines.homework().tasks[1];
    CHECK(task.tries == 1);
    CHECK(task.counted == moves);
    CHECK(task.inside == moves / 2);
    CHECK_FALSE(task.tempo);
    CHECK(doneWords(task).find("no tempo reached yet") != std::string::npos);
    ines.playPass(line, moves, 50.0);
    task = ines.homework().tasks[1];
    CHECK(task.tries == 2);
    CHECK(task.tempo == 50.0);
    CHECK_FALSE(task.isDone());
    ines.playPass(line, moves, 61.0);
    task = ines.homework().tasks[1];
    CHECK(task.tempo == 61.0);
    CHECK(task.isDone());
    CHECK(doneWords(task).starts_with("done: 3 passes"));
}

TEST_CASE("what comes next is the first task that is not done, of the lesson given last") {
    Practice ines;
    CHECK_FALSE(nextHomework(*homeworkOf(*ines.log, ines.student)));
    ines.give(week);
    auto all = *homeworkOf(*ines.log, ines.student);
    REQUIRE(nextHomework(all));
    CHECK(nextHomework(all)->task == 0);
    for (int i = 0; i < 8; ++i) ines.bend(1.0);
    all = *homeworkOf(*ines.log, ines.student);
    CHECK(nextHomework(all)->task == 1);
    REQUIRE(keepLesson(
        *ines.log, ines.student,
        {"Week 4", monday + std::chrono::hours(168), "title = \"Week 4\"\n[[task]]\ndrill = \"Whole up\"\n", false}));
    all = *homeworkOf(*ines.log, ines.student);
    CHECK(all[nextHomework(all)->lesson].title == "Week 4");
    REQUIRE(putAwayLesson(*ines.log, ines.student, "Week 4", true));
    all = *homeworkOf(*ines.log, ines.student);
    CHECK(all[nextHomework(all)->lesson].title == "Week 3");
}

TEST_CASE("a lesson that names what is no longer here is told, and the others stay") {
    Practice ines;
    ines.give("title = \"Week 3\"\n[[task]]\ndrill = \"Mine from last year\"\n");
    const Homework told = ines.homework();
    CHECK(told.tasks.empty());
    CHECK(told.problem.find("no drill 'Mine from last year'") != std::string::npos);
    CHECK_FALSE(told.isDone());
    CHECK_FALSE(nextHomework({told}));
}

TEST_CASE("the report has what was asked and what was done, as words and as figures") {
    Practice ines;
    ines.give(week);
    for (int i = 0; i < 6; ++i) ines.bend(4.0);
    const auto found = review(*ines.log, ines.student);
    REQUIRE(found);
    const std::string page = reportPage(*found, calendarNow());
    for (const char* words : {"<h2>Homework</h2>", "Mara Quill", "8 tries, 60 % inside ±20 cents",
                              "6 of 8 tries, 6 of the last 6 inside", "not begun"})
        CHECK_MESSAGE(page.find(words) != std::string::npos, words);
    const std::string json = reportAsJson(*found);
    CHECK(json.find("\"homework\"") != std::string::npos);
    CHECK(json.find("\"tries_asked\": 8") != std::string::npos);
}
