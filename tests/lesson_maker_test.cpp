// A lesson put together with the keys that the window has for it.
#include "src/app/screens/lesson_maker.h"

#include <string_view>

#include <doctest/doctest.h>

#include "src/formats/drill_file.h"
#include "src/formats/lesson_file.h"
#include "src/review/next_place.h"
#include "src/system/printable.h"
#include "tests/support/command.h"

using namespace landfall;

namespace {

// GLFW 3.3 key codes (glfw3.h, "Keyboard keys").
constexpr int enter = 257, backspace = 259, right = 262, left = 263, down = 264, up = 265, escape = 256;

struct Teacher {
    LessonMaker screen;

    Snapshot shown() const {
        Snapshot snapshot;
        snapshot.screen = Screen::lesson;
        snapshot.lesson = screen.view();
        return snapshot;
    }
    Wish press(std::initializer_list<int> keys) {
        Wish wish;
        for (const int key : keys)
            for (const Intent& intent : intentsForKey(shown(), key)) wish = screen.act(intent);
        return wish;
    }
    void type(std::string_view text) {
        for (const char letter : text)
            for (const Intent& intent : intentsForCharacter(shown(), static_cast<unsigned char>(letter)))
                screen.act(intent);
    }
    SettingRow row() const {
        const SettingList& list = screen.view();
        return list.rows[static_cast<std::size_t>(list.selected)];
    }
    void to(std::string_view label) {
        for (int i = 0; i < 40; ++i) press({up});
        for (int i = 0; i < 40 && row().label != label; ++i) press({down});
        REQUIRE(row().label == label);
    }
    void add(std::string_view name) {
        to("add");
        for (int i = 0; i < 60 && row().value != name; ++i) press({right});
        REQUIRE(row().value == name);
        press({enter});
    }
};

}  // namespace

TEST_CASE("a lesson is put together with keys: words, drills, phrases, their goals") {
    Teacher teacher;
    teacher.to("title");
    teacher.press({enter});
    for (int i = 0; i < 30; ++i) teacher.press({backspace});
    teacher.type("Week 4");
    CHECK(teacher.row().value == "Week 4");
    teacher.press({enter, down, enter});
    teacher.type("Mara Quill");
    teacher.press({enter});
    teacher.add("Half up");
    CHECK(teacher.row().label == "add");  // for the next one
    teacher.add("Lantern Street");
    teacher.to("Half up");
    teacher.press({enter});
    teacher.to("tries");
    teacher.press({right});
    teacher.to("aim");
    CHECK(teacher.row().value == "the student's own");
    teacher.press({right, left, left});
    teacher.to("inside the aim");
    teacher.press({right});
    teacher.to("a word on it");
    teacher.press({enter});
    teacher.type("Eyes closed.");
    teacher.press({enter});
    teacher.to("Lantern Street");
    teacher.press({enter});
    teacher.to("tempo to reach");
    teacher.press({right});
    teacher.to("passes");
    teacher.press({left, left, left, left});
    teacher.to("save");
    const Wish wish = teacher.press({enter});
    REQUIRE(wish.lesson);
    const Lesson& lesson = *wish.lesson;
    CHECK(lesson.title == "Week 4");
    CHECK(lesson.from == "Mara Quill");
    REQUIRE(lesson.tasks.size() == 2);
    CHECK(lesson.tasks[0].tries == totalTries(*drillNamed("Half up")) + 6);
    CHECK(lesson.tasks[0].aim == Cents(23.0));
    CHECK(lesson.tasks[0].inside == 60);
    CHECK(lesson.tasks[0].note == "Eyes closed.");
    CHECK(lesson.tasks[1].tries == 1);
    REQUIRE(lesson.tasks[1].tempo);
    CHECK(*lesson.tasks[1].tempo >= 20.0);
}

TEST_CASE("a goal is left out again below its least, and a task is taken out with one key") {
    Teacher teacher;
    teacher.add("Half up");
    teacher.add("Whole up");
    teacher.to("Half up");
    teacher.press({enter});
    teacher.to("inside the aim");
    teacher.press({right});
    for (int i = 0; i < 9; ++i) teacher.press({left});
    CHECK(teacher.row().value == "as they come");
    teacher.press({left});
    CHECK(teacher.row().value == "as they come");
    teacher.press({backspace});
    CHECK(teacher.row().label == "Whole up");
    teacher.add("Half up");  // may be asked again
    teacher.to("save");
    const Wish wish = teacher.press({enter});
    REQUIRE(wish.lesson);
    REQUIRE(wish.lesson->tasks.size() == 2);
    CHECK(wish.lesson->tasks[0].name() == "Whole up");
}

TEST_CASE("an empty lesson is not saved, twelve tasks are enough, and escape leaves what was typed") {
    Teacher teacher;
    teacher.to("save");
    CHECK_FALSE(teacher.press({enter}).lesson);
    CHECK(teacher.screen.view().message.find("add a drill or a phrase") != std::string::npos);
    const std::string title = teacher.screen.view().rows[0].value;
    teacher.to("title");
    teacher.press({enter});
    teacher.type("Nonsense");
    teacher.press({escape});
    CHECK(teacher.row().value == title);
    teacher.to("add");
    for (int i = 0; i < 12; ++i) teacher.press({enter});
    CHECK(teacher.row().label == "save");
}

TEST_CASE("a long note is shown by its beginning, while it is typed by its end and whole below, and kept whole") {
    Teacher teacher;
    teacher.to("note to the student");
    teacher.press({enter});
    const std::string note =
        "Listen to the target first, and stop when the fingertips are tired, not when the clock says";
    teacher.type(note);
    CHECK(teacher.row().typing);
    CHECK(teacher.row().value.ends_with("when the clock says"));
    CHECK(characterCount(teacher.row().value) < characterCount(note));
    CHECK(teacher.screen.view().message == note);
    teacher.press({enter});
    CHECK(teacher.row().value.starts_with("Listen to the target first"));
    CHECK(teacher.screen.view().message.empty());
    teacher.add("Half up");
    teacher.to("save");
    const Wish wish = teacher.press({enter});
    REQUIRE(wish.lesson);
    CHECK(wish.lesson->note == note);
}

TEST_CASE("what is next for the player is no drill to send, their own drills are") {
    Teacher teacher;
    Drill mine = builtInDrills().front(), next = mine;
    mine.name = "Mine";
    next.name = whatNextName;
    teacher.screen.setOwn({next, mine}, {});
    teacher.to("add");
    bool found = false;
    for (int i = 0; i < 60; ++i) {
        CHECK(teacher.row().value != whatNextName);
        found = found || teacher.row().value == "Mine";
        teacher.press({right});
    }
    CHECK(found);
}

TEST_CASE("a task is taken earlier and later, with its goals, and stops at both ends") {
    Teacher teacher;
    for (const char* name : {"Half up", "Whole up", "Up and home"}) teacher.add(name);
    teacher.to("Up and home");
    teacher.press({enter});
    CHECK(teacher.row().kind == SettingRow::Kind::openGroup);
    teacher.press({left});
    CHECK(teacher.row().label == "Up and home");
    CHECK(teacher.row().kind == SettingRow::Kind::openGroup);  // its goals went with it
    teacher.press({left, left, left});
    CHECK(teacher.row().label == "Up and home");
    teacher.press({enter});
    teacher.to("Half up");
    teacher.press({right});
    teacher.to("save");
    const Wish wish = teacher.press({enter});
    REQUIRE(wish.lesson);
    std::vector<std::string> names;
    for (const LessonTask& task : wish.lesson->tasks) names.push_back(task.name());
    CHECK(names == std::vector<std::string>{"Up and home", "Whole up", "Half up"});
}

TEST_CASE("a lesson that asks the hands for more than a week may hold says so when it is saved") {
    Teacher teacher;
    teacher.add("Whole up");
    teacher.screen.saved(std::filesystem::path("/home/mara/week.lesson.toml"));
    CHECK(teacher.screen.view().message.find("Send it") != std::string::npos);
    teacher.to("Whole up");
    teacher.press({enter});
    teacher.to("tries");
    for (int i = 0; i < 60; ++i) teacher.press({right});
    CHECK(teacher.row().value == "300");
    teacher.screen.saved(std::filesystem::path("/home/mara/week.lesson.toml"));
    CHECK(teacher.screen.view().message
          == "Saved: week.lesson.toml. It asks for 300 bends of a full step and more: 180 a week are enough in the first "
             "month, 300 later.");
}

TEST_CASE(
    "a lesson that was saved is opened again, changed, and saved in its place; what is not saved is asked about") {
    const TestFolder folder;
    Teacher teacher;
    teacher.add("Half up");
    teacher.to("save");
    Wish wish = teacher.press({enter});
    REQUIRE(wish.lesson);
    auto saved = saveLesson(folder.path, *wish.lesson, {}, teacher.screen.file());
    REQUIRE(saved);
    teacher.screen.saved(saved);
    writeText(folder / "broken.lesson.toml", "title = 3\n");
    writeText(folder / "other.txt", "no lesson");

    Teacher later;
    later.screen.setSaved(savedLessons(folder.path));
    later.add("Whole up");
    later.to("open a saved one");
    CHECK(savedLessons(folder.path).size() == 2);
    while (later.row().value == "broken") later.press({right});
    CHECK_FALSE(later.press({enter}).savedLesson);
    CHECK(later.screen.view().message.find("not saved yet") != std::string::npos);
    wish = later.press({enter});
    REQUIRE(wish.savedLesson);
    CHECK(*wish.savedLesson == *saved);
    later.screen.opened(*saved, readLessonFile(*saved));
    CHECK(later.screen.file() == *saved);
    later.add("Up and home");
    later.to("save");
    wish = later.press({enter});
    REQUIRE(wish.lesson);
    REQUIRE(wish.lesson->tasks.size() == 2);
    CHECK(wish.lesson->tasks[0].name() == "Half up");
    const auto again = saveLesson(folder.path, *wish.lesson, {}, later.screen.file());
    REQUIRE(again);
    CHECK(*again == *saved);
    later.screen.saved(again);

    later.screen.opened(folder / "broken.lesson.toml", readLessonFile(folder / "broken.lesson.toml"));
    CHECK(later.screen.view().message.find("broken.lesson.toml") != std::string::npos);
    CHECK(later.screen.file() == *saved);  // what was there stays
}
