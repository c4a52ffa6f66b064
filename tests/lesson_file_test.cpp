#include "src/formats/lesson_file.h"

#include <cstdlib>
#include <filesystem>

#include <doctest/doctest.h>

#include "src/formats/drill_file.h"
#include "src/formats/phrase_file.h"
#include "src/system/printable.h"
#include "tests/support/command.h"

using namespace landfall;

namespace {

const std::string head = "title = \"Week 3\"\n";
const std::string task = "[[task]]\ndrill = \"Half up\"\n";

std::string errorOf(const std::string& toml) {
    const auto lesson = parseLesson(toml, "week.lesson.toml");
    REQUIRE_FALSE_MESSAGE(lesson, toml);
    CHECK(printable(lesson.error().message) == lesson.error().message);
    return lesson.error().message;
}

}  // namespace

TEST_CASE("the example explains the format and is a lesson: a drill, a phrase, a drill of its own") {
    const auto file = readLessonFile(LANDFALL_SOURCE_DIR "/src/lessons/first_full_steps.lesson.toml");
    REQUIRE_MESSAGE(file, file.error().message);
    const Lesson& lesson = file->lesson;
    CHECK(lesson.title == "Full steps that arrive");
    CHECK(lesson.from == "Mara Quill");
    REQUIRE(lesson.tasks.size() == 3);
    CHECK(lesson.tasks[0].name() == "Half up");
    CHECK(lesson.tasks[0].tries == 18);
    CHECK(lesson.tasks[0].inside == 60);
    CHECK(lesson.tasks[0].aim == Cents(25.0));
    CHECK_FALSE(lesson.tasks[0].note.empty());
    CHECK(lesson.tasks[1].isPhrase());
    CHECK(lesson.tasks[1].name() == "Lantern Street");
    CHECK(lesson.tasks[1].tries == 6);
    CHECK(lesson.tasks[1].tempo == 60.0);
    CHECK(std::get<Drill>(lesson.tasks[2].what).places.size() == 2);
}

TEST_CASE("left out, a drill is asked for once through, a phrase for three passes, by the student's own aim") {
    const auto lesson = parseLesson(head + task + "[[task]]\nphrase = \"lantern street\"\n", "week.lesson.toml");
    REQUIRE(lesson);
    CHECK(lesson->tasks[0].tries == totalTries(*drillNamed("Half up")));
    CHECK(lesson->tasks[1].tries == 3);
    for (const LessonTask& each : lesson->tasks) {
        CHECK_FALSE(each.aim);
        CHECK_FALSE(each.inside);
        CHECK_FALSE(each.tempo);
    }
}

TEST_CASE("a drill, a phrase or a score of the teacher's own travels with the lesson") {
    const auto phrase = parseLesson(head
                                        + "[[task]]\n[task.phrase]\nname = \"Two notes\"\n[[task.phrase.move]]\n"
                                          "gesture = \"bend\"\nstring = 3\nfret = 7\nto = 2\n[[task.phrase.move]]\n"
                                          "gesture = \"note\"\nstring = 2\nfret = 8\n",
                                    "week.lesson.toml");
    REQUIRE_MESSAGE(phrase, phrase.error().message);
    CHECK(std::get<Line>(phrase->tasks[0].what).moves.size() == 2);
    std::string score(builtInPhraseText("Two stairs down"));
    const auto at = score.find("Two stairs down");
    REQUIRE(at != std::string::npos);
    score.replace(at, 15, "Stairs of mine!");
    const auto scored = parseLesson(head + "[[task]]\nscore = '''" + score + "'''\ntempo = 50\n", "week.lesson.toml");
    REQUIRE_MESSAGE(scored, scored.error().message);
    CHECK(scored->tasks[0].name() == "Stairs of mine!");
    CHECK(scored->tasks[0].tempo == 50.0);
}

TEST_CASE("what is wrong with a lesson is one line with its place and what to write") {
    const std::string wrongs[][2] = {
        {head, "week.lesson.toml:1:1: 'task' is missing: expected at least one [[task]] table"},
        {task, "'title' is missing: expected title = \"...\""},
        {head + task + "trys = 5\n",
         "week.lesson.toml:4:1: 'trys' is not known here: expected drill, phrase, score, tries, passes, aim, inside, "
         "tempo, note"},
        {head + "[[task]]\ndrill = \"Hlaf up\"\n", "week.lesson.toml:3:9: no drill 'Hlaf up': nearest are 'Half up'"},
        {head + "[[task]]\ndrill = \"Hlaf up\"\n", "or put it into the lesson, as [task.drill]"},
        {head + "[[task]]\nphrase = \"Lantern Stret\"\n",
         "week.lesson.toml:3:10: no phrase 'Lantern Stret': nearest are 'Lantern Street'"},
        {head + "[[task]]\ntries = 5\n", "week.lesson.toml:2:1: a task is one drill or one phrase, not none"},
        {head + task + "phrase = \"Lantern Street\"\n", "one drill or one phrase, not several"},
        {head + task + task, "week.lesson.toml:4:1: 'Half up' is asked for twice"},
        {head + task + "tries = 100000\n",
         "week.lesson.toml:4:9: 'tries' must be a whole number from 1 to 300, not 100000"},
        {head + task + "tries = -4\n", "'tries' must be a whole number from 1 to 300, not -4"},
        {head + task + "aim = 0\n", "'aim' must be a number from 1 to 100, not 0"},
        {head + task + "aim = nan\n", "'aim' must be a number from 1 to 100"},
        {head + task + "inside = 101\n", "'inside' must be a whole number from 1 to 100, not 101"},
        {head + task + "tempo = 60\n", "'tempo' is for a phrase with beats; 'Half up' has none"},
        {head
             + "[[task]]\ntempo = 60\n[task.phrase]\nname = \"Free\"\n[[task.phrase.move]]\ngesture = \"note\"\n"
               "string = 2\nfret = 8\n",
         "week.lesson.toml:3:9: 'tempo' is for a phrase with beats; 'Free' has none"},
        {head + "[[task]]\nphrase = \"Lantern Street\"\ntempo = 9e99\n", "'tempo' must be a number from 20 to 400"},
        {head + task + "passes = 3\n", "'passes' is for phrases; of this one write 'tries'"},
        {head + "[[task]]\nphrase = \"Lantern Street\"\ntries = 3\n",
         "'tries' is for drills; of this one write 'passes'"},
        {head
             + "[[task]]\n[task.drill]\nname = \"Half up\"\n[[task.drill.step]]\ngesture = \"bend\"\nto = 1\n"
               "[[task.drill.place]]\nstring = 2\nfrets = 8\n",
         "the drill 'Half up' is built in"},
        {head
             + "[[task]]\n[task.drill]\nname = \"Mine\"\n[[task.drill.step]]\ngesture = \"leap\"\nto = 1\n"
               "[[task.drill.place]]\nstring = 2\nfrets = 8\n",
         "week.lesson.toml:6:11: "},
        {head + "[[task]]\nscore = '''<score/>'''\n", "week.lesson.toml:3:9: score.musicxml"},
        {"title = \"" + std::string(61, 'x') + "\"\n" + task, "one line of text, up to 60 characters"},
        {"title = \"two\\nlines\"\n" + task, "one line of text"},
        {"title \"Week\"\n" + task, "not TOML"}};
    for (const auto& [toml, words] : wrongs) {
        CAPTURE(toml);
        const std::string said = errorOf(toml);
        CHECK_MESSAGE(said.find(words) != std::string::npos, said);
        CHECK(said.starts_with("week.lesson.toml:"));
    }
    std::string many = head;
    for (const char* name :
         {"Half up", "Whole up", "Up and stay", "Up and home", "Bent before", "Twelve along", "One fret in",
          "Side by side", "Two by two", "Meet in the middle", "One holds", "All the way up", "As slow as you can"})
        many += std::string("[[task]]\ndrill = \"") + name + "\"\n";
    CHECK(errorOf(many).find("more than 12 tasks: make two lessons of it") != std::string::npos);
}

TEST_CASE("a lesson reads no other file of the machine") {
    const TestFolder folder;
    writeText(folder / "mine.toml",
              "name = \"Mine\"\n[[step]]\ngesture = \"bend\"\nto = 1\n[[place]]\nstring = 2\nfrets = 8\n");
    const std::string path = (folder / "mine.toml").string();
    REQUIRE(findDrill(path));
    CHECK(errorOf(head + "[[task]]\ndrill = \"" + path + "\"\n").find("no drill '") != std::string::npos);
    CHECK(readLessonFile(folder / "none.lesson.toml").error().message.find("none.lesson.toml") != std::string::npos);
}

TEST_CASE("a lesson that is written reads back the same, with its own drills and phrases") {
    Lesson lesson;
    lesson.title = "Week 4 / \"slowly\"";
    lesson.from = "Mara Quill";
    lesson.note = "Two short evenings.";
    LessonTask built{.what = *drillNamed("Half up")};
    built.tries = 18;
    built.aim = Cents(18.0);
    built.inside = 60;
    built.note = "Eyes closed.";
    Drill drill = *drillNamed("Whole up");
    drill.name = "Whole up on the B";
    drill.places = {{2, 9}, {2, 10}};
    LessonTask own{.what = drill};
    own.tries = 12;
    const auto mine = parsePhrase(
        "name = \"Two notes\"\n[[move]]\ngesture = \"bend\"\nstring = 3\nfret = 7\nto = 2\n"
        "[[move]]\ngesture = \"note\"\nstring = 2\nfret = 8\n",
        "two.toml");
    REQUIRE(mine);
    std::string score(builtInPhraseText("Two stairs down"));
    score.replace(score.find("Two stairs down"), 15, "Stairs of mine!");
    const auto scored = parsePhrase(score, "stairs.musicxml");
    REQUIRE(scored);
    PhraseFile notes = *mine, stairs = *scored;
    notes.text =
        "name = \"Two notes\"\n[[move]]\ngesture = \"bend\"\nstring = 3\nfret = 7\nto = 2\n"
        "[[move]]\ngesture = \"note\"\nstring = 2\nfret = 8\n";
    stairs.text = score;
    LessonTask line{.what = notes.line}, heard{.what = stairs.line}, known{.what = phraseNamed("Lantern Street")->line};
    line.tries = 4;
    heard.tries = 5;
    heard.tempo = 50.0;
    known.tries = 6;
    lesson.tasks = {built, own, line, heard, known};

    const std::vector<PhraseFile> phrases{notes, stairs};
    const auto text = lessonAsToml(lesson, phrases);
    REQUIRE_MESSAGE(text, text.error().message);
    const auto back = parseLesson(*text, "week.lesson.toml");
    REQUIRE_MESSAGE(back, back.error().message);
    CHECK(back->title == lesson.title);
    CHECK(back->from == lesson.from);
    CHECK(back->note == lesson.note);
    REQUIRE(back->tasks.size() == lesson.tasks.size());
    for (std::size_t i = 0; i < lesson.tasks.size(); ++i) {
        const LessonTask &one = back->tasks[i], &same = lesson.tasks[i];
        CHECK(one.name() == same.name());
        CHECK(one.tries == same.tries);
        CHECK(one.aim == same.aim);
        CHECK(one.inside == same.inside);
        CHECK(one.tempo == same.tempo);
        CHECK(one.note == same.note);
    }
    CHECK(std::get<Drill>(back->tasks[1].what).places == drill.places);
    CHECK(std::get<Line>(back->tasks[3].what).moves.size() == stairs.line.moves.size());
    // Without the file's text a phrase of one's own cannot go along.
    const auto lost = lessonAsToml(lesson);
    REQUIRE_FALSE(lost);
    CHECK(lost.error().message.find("Two notes") != std::string::npos);
}

TEST_CASE("a saved lesson replaces its own file and no other one") {
    const TestFolder folder;
    Lesson lesson;
    lesson.title = "Week 4";
    lesson.tasks = {{.what = *drillNamed("Half up")}};
    const auto first = saveLesson(folder / "lessons", lesson);
    REQUIRE_MESSAGE(first, first.error().message);
    CHECK(first->filename() == "week-4.lesson.toml");
    lesson.note = "Slowly.";
    CHECK(*saveLesson(folder / "lessons", lesson, {}, *first) == *first);
    CHECK(readLessonFile(*first)->lesson.note == "Slowly.");
    const auto other = saveLesson(folder / "lessons", lesson);
    REQUIRE(other);
    CHECK(other->filename() == "week-4-2.lesson.toml");
    CHECK(*saveLesson(folder / "lessons", lesson, {}, *other) == *other);
    writeText(folder / "file", "in the way");
    const auto refused = saveLesson(folder / "file", lesson);
    REQUIRE_FALSE(refused);
    CHECK(refused.error().message.find((folder / "file").string()) != std::string::npos);
}
