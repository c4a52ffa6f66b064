#include <doctest/doctest.h>

#include <atomic>
#include <chrono>
#include <string>
#include <thread>

#include "dsp/quantise.h"
#include "src/app/screens/screens.h"
#include "src/audio/simulated_player.h"
#include "src/formats/lesson_file.h"
#include "src/review/glance.h"
#include "src/store/students.h"
#include "tests/support/command.h"
#include "tests/support/invented_practice.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

// GLFW 3.3 key codes (glfw3.h, "Keyboard keys").
constexpr int enter = 257, backspace = 259, right = 262, left = 263, down = 264, up = 265, escape = 256;

// The trainer's part: keys in, wishes out, answers taken in until the screens have what they asked for.
struct Player {
    explicit Player(const TestFolder& folder, Settings settings = {}, std::vector<SoundDevice> inputs = {})
        : screens({folder / "settings.toml", folder / "drills", [file = folder / "log.sqlite"] { return file; },
                   [inputs]() -> Result<std::vector<SoundDevice>> { return inputs; }},
                  settings) {}

    Wish press(std::initializer_list<int> keys) {
        Wish wish;
        for (const int key : keys) {
            for (const Intent& intent : intentsForKey(shown(), key)) wish = screens.act(intent);
        }
        return wish;
    }
    Snapshot shown() const {
        Snapshot snapshot;
        screens.fill(snapshot);
        return snapshot;
    }
    // Down to that row of the settings, through the groups.
    void toSetting(const std::string& label) {
        for (int i = 0; i < 60; ++i) {
            const SettingList list = shown().settings;
            const SettingRow& row = list.rows[static_cast<std::size_t>(list.selected)];
            if (row.label == label) return;
            if (row.kind == SettingRow::Kind::group) press({262});  // right
            press({264});                                           // down
        }
        FAIL("no row " << label);
    }
    // Waits for work beside, five seconds at most.
    template <typename Until>
    bool wait(Until until) {
        for (int i = 0; i < 1000; ++i) {
            screens.poll();
            if (until()) return true;
            std::this_thread::sleep_for(std::chrono::milliseconds(5));
        }
        return false;
    }

    Screens screens;
};

Settings seen() {
    Settings settings;
    settings.cautionsSeen = "2027-03-01";
    return settings;
}

LoggedTry someTry(int number) {
    LoggedTry one;
    one.number = number;
    one.drill = "Half up";
    one.landing.move = {Gesture::bend, MidiPitch(67), MidiPitch(68), NeckPlace{2, 8}, {}};
    one.landing.verdict = Verdict::near;
    one.landing.landingError = one.landing.firstStopError = Cents(-14.0);
    return one;
}

}  // namespace

TEST_CASE("a card that is there again, converted, is not offered") {
    DeviceInfo card, again;
    card.api = again.api = "ALSA";
    card.name = "interface";
    card.inputs = again.inputs = 2;
    again.name = "sysdefault";
    again.converted = true;
    const auto offers = offered({again, card});
    REQUIRE(offers.size() == 1);
    CHECK(offers[0].label == "ALSA: interface");
}

TEST_CASE(
    "screens: the very first start goes from the input to the first drill with enter alone, and is not shown again") {
    const TestFolder folder;
    {
        Player player(folder, {}, {{"ALSA: two inputs", 2, true}});
        CHECK(player.screens.screen() == Screen::start);
        REQUIRE(player.wait([&] { return !player.shown().start.inputs.empty(); }));
        CHECK(player.shown().start.selected == 0);
        CHECK_FALSE(player.press({enter}).newInput);  // the system's choice is what is heard
        player.press({'6'});                          // as "No signal" says: back to the inputs
        CHECK(player.shown().start.step == StartStep::device);
        player.press({enter, enter});
        CHECK(player.shown().start.step == StartStep::care);
        CHECK(player.press({enter}).newSettings);
        player.press({enter});
        CHECK(player.screens.screen() == Screen::stringCheck);
        player.press({enter});  // leaves the check
        CHECK(player.screens.screen() == Screen::start);
        CHECK(player.shown().start.step == StartStep::firstDrill);
        CHECK(player.shown().start.neck.place->string == 2);
        CHECK(player.shown().start.neck.place->fret == 8);
        CHECK(player.shown().start.neck.stringNames.size() == 6);
        const Wish wish = player.press({enter});
        REQUIRE(wish.play);
        CHECK(wish.play->drill.name == "Half up");
        CHECK(player.screens.screen() == Screen::practice);
    }
    // What was to be saved is saved although the program ended at once.
    const auto kept = loadSettings(folder / "settings.toml");
    REQUIRE(kept);
    CHECK_FALSE(kept->settings.cautionsSeen.empty());
    CHECK(Player(folder, kept->settings).screens.screen() == Screen::practice);
}

TEST_CASE("screens: an input that is marked is opened and kept with enter, and left alone with backspace") {
    const TestFolder folder;
    {
        Player player(folder, {}, {{"ALSA: one", 1, true}, {"ALSA: two", 2, false}});
        REQUIRE(player.wait([&] { return !player.shown().start.inputs.empty(); }));
        CHECK(player.screens.toMeter() > 0);
        CHECK_FALSE(player.press({down, down}).newInput);
        const Wish wish = player.press({enter});
        CHECK(wish.newInput);
        CHECK(player.screens.toMeter() == 0);
        CHECK(player.screens.settings().deviceName == "ALSA: two");
        CHECK(player.screens.settings().channel == 2);
        CHECK_FALSE(player.press({left, enter}).newInput);  // it is in use by now
        CHECK_FALSE(player.press({left, up, backspace}).newInput);
        CHECK(player.screens.settings().channel == 2);
    }
    CHECK(loadSettings(folder / "settings.toml")->settings.deviceName == "ALSA: two");
}

TEST_CASE("screens: the simulated player's level is on its own row") {
    const TestFolder folder;
    Settings settings;
    settings.simulated = true;
    Player player(folder, settings, {{"ALSA: one", 1, true}});
    REQUIRE(player.wait([&] { return !player.shown().start.inputs.empty(); }));
    Snapshot snapshot;
    snapshot.input.level = Decibels(-12.0);
    player.screens.fill(snapshot);
    CHECK(snapshot.start.selected == 1);
    CHECK(snapshot.start.inputs[1].level == Decibels(-12.0));
    CHECK(snapshot.start.inputs[0].level == Decibels(-140.0));
}

TEST_CASE("screens: a device that is away is not forgotten for another one until that is accepted") {
    const TestFolder folder;
    writeText(folder / "settings.toml", "[device]\nname = \"ALSA: away\"\n");
    Settings settings = seen();
    settings.deviceName = "ALSA: away";
    for (const int key : {backspace, enter}) {
        Player player(folder, settings, {{"ALSA: here", 1, true}});
        player.press({'6'});
        CHECK(player.screens.screen() == Screen::start);
        REQUIRE(player.wait([&] { return !player.shown().start.inputs.empty(); }));
        CHECK(player.screens.settings().deviceName == "ALSA: away");
        CHECK(player.press({key}).newInput == (key == enter));
        CHECK(player.screens.settings().deviceName == (key == enter ? "ALSA: here" : "ALSA: away"));
    }
    CHECK(loadSettings(folder / "settings.toml")->settings.deviceName == "ALSA: here");
}

TEST_CASE("screens: an interface that is plugged in while one waits for it joins the list without a key") {
    const TestFolder folder;
    std::atomic<bool> plugged{false};
    Screens screens({folder / "settings.toml", folder / "drills", [&] { return folder / "log.sqlite"; },
                     [&plugged]() -> Result<std::vector<SoundDevice>> {
                         return plugged ? std::vector<SoundDevice>{{"ALSA: new", 1, true}} : std::vector<SoundDevice>{};
                     }},
                    Settings{});
    Snapshot shown;
    const auto wait = [&](auto until) {
        for (int i = 0; i < 2000; ++i) {
            screens.poll();
            screens.fill(shown);
            if (until()) return true;
            std::this_thread::sleep_for(std::chrono::milliseconds(5));
        }
        return false;
    };
    REQUIRE(wait([&] { return !shown.start.looking; }));
    CHECK(shown.start.inputs.empty());
    plugged = true;
    REQUIRE(wait([&] { return !shown.start.inputs.empty(); }));
    CHECK(shown.start.inputs.front().name == "ALSA: new");
}

TEST_CASE("screens: where a file is heard no other input is looked for") {
    const TestFolder folder;
    Screens screens({folder / "settings.toml", folder / "drills", [&] { return folder / "log.sqlite"; }, {}}, seen());
    screens.act({Intent::Kind::open, Screen::start, 0});
    Snapshot shown;
    screens.fill(shown);
    CHECK_FALSE(shown.start.looking);
}

TEST_CASE("screens: where nothing can be played the settings say so") {
    const TestFolder folder;
    Player player(folder, seen());
    player.press({'4'});
    player.screens.noSoundOutput();
    CHECK(player.shown().settings.message == "This input has no sound output of its own. Choose an output.");
}

TEST_CASE("screens: the log is read when progress opens, and a struck try is struck in it") {
    const TestFolder folder;
    Sitting sitting;
    sitting.student = "player";
    {
        auto log = Log::open(folder / "log.sqlite", Log::Access::write);
        REQUIRE(log);
        for (int i = 1; i <= 3; ++i) REQUIRE(log->put(sitting, someTry(i)));
    }
    Player player(folder, seen());
    player.press({'3'});
    CHECK(player.shown().progress.message == "Reading the log ...");
    REQUIRE(player.wait([&] { return player.shown().progress.overview.has_value(); }));
    player.press({'S'});
    REQUIRE(player.wait([&] { return player.shown().progress.tries.size() == 3; }));
    const Wish wish = player.press({right, down, backspace});
    REQUIRE(wish.strike);
    CHECK(wish.strike->token == sitting.token);
    CHECK(wish.strike->number == 2);
    CHECK(wish.strike->struck);
    CHECK(player.wait([&] {
        auto log = Log::open(folder / "log.sqlite", Log::Access::read);
        return log && log->tries(1)->at(1).struck;
    }));
    // A log that cannot be read says so.
    writeText(folder / "log.sqlite", "no log");
    player.press({'1', '3'});
    CHECK(player.wait([&] { return player.shown().progress.message.find("log.sqlite") != std::string::npos; }));
}

TEST_CASE("screens: progress that was opened before the first try is in the log has it once it is") {
    const TestFolder folder;
    Player player(folder, seen());
    player.press({'3'});
    player.screens.logged(0);
    CHECK(player.wait([&] { return player.shown().progress.message != "Reading the log ..."; }));
    CHECK(player.shown().progress.sittings.empty());
    Sitting sitting;
    sitting.student = "player";
    for (int tries = 1; tries <= 2; ++tries) {
        {
            auto log = Log::open(folder / "log.sqlite", Log::Access::write);
            REQUIRE(log);
            REQUIRE(log->put(sitting, someTry(tries)));
        }
        player.screens.logged(tries);
        if (tries == 1) {
            REQUIRE(player.wait([&] { return player.shown().progress.overview.has_value(); }));
            player.press({'S'});
        }
        CHECK(player.wait([&] { return player.shown().progress.tries.size() == static_cast<std::size_t>(tries); }));
    }
}

TEST_CASE("screens: my students are listed with who needs a look first, and enter opens one's page") {
    const TestFolder folder;
    {
        auto log = Log::open(folder / "log.sqlite", Log::Access::write);
        REQUIRE(log);
        const auto day = std::chrono::hours(24);
        REQUIRE(inventPractice(*log, "Ines", calendarNow() - 20 * day, 20, 30, 3));
        REQUIRE(inventPractice(*log, "Tobi", calendarNow() - 60 * day, 5, 30, 4));
        REQUIRE(log->addStudent("Noor"));
        auto gone = log->addStudent("Old");
        REQUIRE(gone);
        gone->archived = true;
        REQUIRE(log->change(*gone));
    }
    Player player(folder, seen());
    player.press({'8'});
    const auto rows = [&] { return player.shown().students.rows; };
    REQUIRE(player.wait([&] {
        const auto now = rows();
        return now.size() == 4
               && std::ranges::none_of(now, [](const StudentRow& row) { return row.worst == "Reading ..."; });
    }));
    CHECK(rows()[0].name == "Tobi");
    CHECK(rows()[0].ask.find("days without playing") != std::string::npos);
    CHECK(rows()[1].name == "Noor");
    CHECK(rows()[1].last == "has not played yet");
    CHECK(rows()[2].name == "Ines");
    CHECK(rows()[3].name == "Old");
    CHECK(rows()[3].worst == "Archived");
    // The same words as the review's own.
    auto log = Log::open(folder / "log.sqlite", Log::Access::read);
    const auto student = findStudent(*log, "Ines");
    REQUIRE(student);
    const auto read = review(*log, *student);
    REQUIRE(read);
    CHECK(rows()[2].worst == glanceOf(*read, calendarNow()).worst);
    player.press({down, down, enter});
    CHECK(player.shown().screen == Screen::students);
    REQUIRE(player.shown().students.lesson);
    CHECK(player.shown().students.lesson->student == "Ines");
    REQUIRE(player.wait([&] { return player.shown().students.lesson->sittings.size() == 20; }));
    player.press({'P'});
    CHECK(player.shown().screen == Screen::progress);
    CHECK(player.shown().progress.whose == "Ines");
    REQUIRE(player.wait([&] { return player.shown().progress.overview.has_value(); }));
    CHECK(player.shown().progress.sittings.size() == 20);
    player.press({escape});
    CHECK(player.shown().screen == Screen::students);
    CHECK(player.shown().students.lesson->student == "Ines");  // where one came from
    player.press({escape});
    CHECK_FALSE(player.shown().students.lesson);
    player.press({enter, '3'});
    CHECK(player.shown().progress.whose.empty());  // the player's own again
    REQUIRE(player.wait([&] { return player.shown().progress.sittings.empty(); }));
    player.press({'8'});
    CHECK_FALSE(player.shown().students.lesson);
}

// Two have played, and Toby plays now.
static Settings tobyBesideNoor(const TestFolder& folder) {
    auto log = Log::open(folder / "log.sqlite", Log::Access::write);
    REQUIRE(log);
    REQUIRE(inventPractice(*log, "Toby", calendarNow() - std::chrono::hours(72), 2, 10, 3));
    REQUIRE(inventPractice(*log, "Noor", calendarNow() - std::chrono::hours(48), 1, 10, 4));
    Settings settings = seen();
    settings.student = "Toby";
    return settings;
}

TEST_CASE("screens: students are renamed, archived and brought back, and merged once that is confirmed") {
    const TestFolder folder;
    Player player(folder, tobyBesideNoor(folder));
    player.press({'8'});
    const auto list = [&] { return player.shown().students; };
    const auto to = [&](const std::string& name) {
        for (int i = 0; i < 4; ++i) player.press({up});
        for (int i = 0; i < 4 && list().rows[static_cast<std::size_t>(list().selected)].name != name; ++i)
            player.press({down});
        return list().rows[static_cast<std::size_t>(list().selected)].name == name;
    };
    const auto type = [&](const std::string& words) {
        while (!list().typing->empty()) player.press({backspace});
        for (const char letter : words)
            for (const Intent& intent : intentsForCharacter(player.shown(), static_cast<unsigned char>(letter)))
                player.screens.act(intent);
    };
    const auto inLog = [&](const std::string& name) {
        auto log = Log::open(folder / "log.sqlite", Log::Access::read);
        const auto found = findStudent(*log, name);
        return found ? std::optional(*found) : std::nullopt;
    };
    REQUIRE(player.wait([&] { return list().rows.size() == 2; }));
    // Two of one name there cannot be; the name of who plays goes with the settings, and their sitting ends.
    REQUIRE(to("Toby"));
    player.press({'R'});
    CHECK(list().typing == "Toby");
    type("noor");
    player.press({enter});
    CHECK(list().message.find("There is a student Noor already") == 0);
    type("");
    player.press({enter});
    CHECK(list().message == "A name has letters or digits.");
    type("Tobi 8");
    const Wish renamed = player.press({enter});
    CHECK(renamed.newStudent);
    CHECK(player.screens.settings().student == "Tobi 8");
    REQUIRE(player.wait([&] { return to("Tobi 8"); }));
    CHECK(inLog("Tobi 8"));
    CHECK_FALSE(inLog("Toby"));
    // Archived: at the end of the list, and back.
    REQUIRE(to("Noor"));
    CHECK_FALSE(player.press({'A'}).newStudent);
    REQUIRE(player.wait([&] { return list().rows[1].worst == "Archived"; }));
    CHECK(list().rows[1].name == "Noor");
    CHECK(inLog("Noor")->archived);
    REQUIRE(to("Noor"));
    CHECK(list().archived);
    player.press({'A'});
    REQUIRE(player.wait([&] { return !inLog("Noor")->archived; }));
    REQUIRE(player.wait([&] { return to("Noor") && !list().archived; }));
    // Merged: not into itself, not by enter, not after a second thought.
    REQUIRE(to("Tobi 8"));
    player.press({'M'});
    CHECK(list().question == "Who is the same student as Tobi 8?");
    player.press({enter});
    CHECK_FALSE(list().sure);
    REQUIRE(to("Noor"));
    player.press({enter});
    REQUIRE(list().sure);
    CHECK(list().question == "What Tobi 8 played is Noor's then (2 sittings). This cannot be undone.");
    CHECK_FALSE(player.press({enter}).change);
    player.press({escape});
    CHECK_FALSE(list().sure);
    REQUIRE(to("Tobi 8"));
    player.press({'M'});
    REQUIRE(to("Noor"));
    CHECK(player.press({enter, 'Y'}).newStudent);
    CHECK(player.screens.settings().student == "Noor");
    REQUIRE(player.wait([&] { return list().rows.size() == 1; }));
    auto log = Log::open(folder / "log.sqlite", Log::Access::read);
    CHECK(log->sittings("Noor")->size() == 3);
}

TEST_CASE("screens: a student is deleted for ever once that is confirmed and the name typed, never who plays") {
    const TestFolder folder;
    Player player(folder, tobyBesideNoor(folder));
    player.press({'8'});
    const auto list = [&] { return player.shown().students; };
    REQUIRE(player.wait([&] { return list().rows.size() == 2; }));
    const auto choose = [&](const std::string& name) {
        while (list().rows[static_cast<std::size_t>(list().selected)].name != name)
            player.press({list().selected == 0 ? down : up});
    };
    const auto type = [&](const std::string& words) {
        for (const char letter : words)
            for (const Intent& intent : intentsForCharacter(player.shown(), static_cast<unsigned char>(letter)))
                player.screens.act(intent);
    };
    choose("Toby");
    player.press({'D'});
    CHECK(list().message == "Toby plays now: choose another student in the settings, then delete this one.");
    CHECK_FALSE(list().sure);
    choose("Noor");
    player.press({'D'});
    CHECK(list().question.find("All that Noor played would be deleted for ever") == 0);
    CHECK_FALSE(player.press({enter}).change);
    player.press({escape});
    CHECK(list().question.empty());
    player.press({'D', 'Y'});
    CHECK(list().question == "To delete Noor, type the name");
    CHECK_FALSE(player.press({enter}).change);
    CHECK(list().message == "That is not Noor's name. Nothing is deleted.");
    type("Noor");
    player.press({enter});
    REQUIRE(player.wait([&] { return list().rows.size() == 1; }));
    REQUIRE(player.wait([&] { return list().message == "Noor is deleted: 1 sitting, 10 tries, 0 kept sounds."; }));
    auto log = Log::open(folder / "log.sqlite", Log::Access::read);
    CHECK(log->sittings("Noor")->empty());
    CHECK(log->sittings("Toby")->size() == 2);
}

TEST_CASE("screens: a teacher opens a try of a student, and writes notes on the lesson, a sitting and the try") {
    const TestFolder folder;
    {
        auto log = Log::open(folder / "log.sqlite", Log::Access::write);
        REQUIRE(log);
        REQUIRE(inventPractice(*log, "Ines", calendarNow() - std::chrono::hours(24 * 9), 3, 30, 3));
    }
    Player player(folder, seen());
    player.press({'8'});
    REQUIRE(player.wait([&] { return player.shown().students.rows.size() == 1; }));
    player.press({enter});
    const auto page = [&] { return *player.shown().students.lesson; };
    REQUIRE(player.wait([&] { return !page().since.empty(); }));
    CHECK(page().tries.size() == 3);
    const auto write = [&](const std::string& words) {
        player.press({'N'});
        REQUIRE(page().typing);
        for (const char letter : words)
            for (const Intent& intent : intentsForCharacter(player.shown(), static_cast<unsigned char>(letter)))
                player.screens.act(intent);
        const std::size_t before = page().notes.size();
        player.press({enter});
        CHECK_FALSE(page().typing);
        REQUIRE(player.wait([&] { return page().notes.size() == before + 1; }));
    };
    write("8 bars, slowly");  // a digit is typed, and opens no screen
    player.press({down});
    write("tired");
    player.press({down, down, down, enter});
    REQUIRE(page().opened);
    CHECK(page().opened->sweep);
    write("the wrist");
    CHECK(page().opened->notes == "the wrist");
    player.press({left});
    CHECK_FALSE(page().opened);
    {
        auto log = Log::open(folder / "log.sqlite", Log::Access::read);
        const auto notes = notesOf(*log, *findStudent(*log, "Ines"));
        REQUIRE(notes->size() == 3);
        for (const KeptNote& each : *notes) {
            CHECK((each.sitting == 0) == (each.text == "8 bars, slowly"));
            CHECK((each.number != 0) == (each.text == "the wrist"));
        }
    }
    // What is not kept is not written; a note is changed, and taken back.
    player.press({'N', escape});
    CHECK(page().notes.size() == 3);
    for (int i = 0; i < 9; ++i) player.press({down});
    const std::string last = page().notes.back().text;
    player.press({enter});
    CHECK(page().typing == last);
    for (std::size_t i = 0; i < last.size(); ++i) player.press({backspace});
    CHECK(page().typing == "");
    player.press({enter});
    REQUIRE(player.wait([&] { return page().notes.size() == 2; }));
    // Where it cannot be kept that is said.
    writeText(folder / "log.sqlite", "no log");
    player.press({'N'});
    player.screens.act({Intent::Kind::typed, Screen::students, 'x'});
    player.press({enter});
    CHECK(player.wait([&] { return page().message.find("log.sqlite") != std::string::npos; }));
}

TEST_CASE("screens: a lesson that is made is saved beside the drills, and its file is one that a student can take in") {
    const TestFolder folder;
    Player player(folder, seen());
    player.press({'9'});
    CHECK(player.shown().screen == Screen::lesson);
    const auto row = [&] {
        const SettingList list = player.shown().lesson;
        return list.rows[static_cast<std::size_t>(list.selected)];
    };
    for (int i = 0; i < 9 && row().label != "add"; ++i) player.press({down});
    const std::string drill = row().value;
    player.press({enter, down, enter});
    REQUIRE(player.wait([&] { return !player.shown().lesson.message.empty(); }));
    CHECK(player.shown().lesson.message.find("Saved: " + (folder / "lessons").string()) == 0);
    const std::string name = row().value;
    CHECK(name.ends_with(".lesson.toml"));
    const auto lesson = readLessonFile(folder / "lessons" / name);
    REQUIRE_MESSAGE(lesson, lesson.error().message);
    CHECK(lesson->lesson.tasks.at(0).name() == drill);
    player.screens.act({Intent::Kind::dropped, Screen::lesson, 0, (folder / "lessons" / name).string()});
    REQUIRE(player.wait([&] { return player.shown().today.title == lesson->lesson.title; }));
    // Where it cannot be written it says so.
    std::filesystem::remove_all(folder / "lessons");
    writeText(folder / "lessons", "in the way");
    player.press({'9', enter});
    CHECK(player.wait([&] { return player.shown().lesson.message.find("not saved") != std::string::npos; }));
}

TEST_CASE("screens: a name that is typed is the name of what was played so far, in the log too") {
    const TestFolder folder;
    Sitting sitting;
    sitting.student = "player";
    REQUIRE(Log::open(folder / "log.sqlite", Log::Access::write)->put(sitting, someTry(1)));
    Player player(folder, seen());
    player.press({'4'});
    player.toSetting("student");
    player.press({enter});
    for (const char32_t letter : U"Ines")
        if (letter) player.screens.act({Intent::Kind::typed, Screen::settings, static_cast<int>(letter)});
    CHECK(player.press({enter}).newStudent);
    CHECK(player.wait([&] {
        auto log = Log::open(folder / "log.sqlite", Log::Access::read);
        return log && log->sittings("Ines")->size() == 1 && log->students()->size() == 1;
    }));
}

TEST_CASE("screens: what next stands in the list of drills with its reason, once the log knows the student") {
    const TestFolder folder;
    Player player(folder, seen());
    const auto reason = [&]() -> std::string {
        const std::vector<DrillRow> rows = player.shown().drills.rows;
        for (const DrillRow& row : rows)
            if (row.name == "What next") return row.trains;
        return {};
    };
    player.press({'2'});
    int polls = 0;
    player.wait([&] { return ++polls > 60; });
    CHECK(reason().empty());
    Sitting sitting;
    sitting.student = "player";
    REQUIRE(Log::open(folder / "log.sqlite", Log::Access::write)->put(sitting, someTry(1)));
    player.press({'1', '2'});
    REQUIRE(player.wait([&] { return !reason().empty(); }));
    CHECK(reason().find("Cold try ") == 0);
    CHECK(player.shown().drills.rows.front().name == "What next");
}

TEST_CASE("screens: a drill taken elsewhere on the neck is played at once and is in the list of the next start") {
    const TestFolder folder;
    std::string name;
    {
        Player player(folder, seen());
        player.press({'2'});
        const Wish wish = player.press({'E', right, enter});
        REQUIRE(wish.play);
        name = wish.play->drill.name;
        CHECK(name == "Half up · G string 8-10");
        CHECK(player.screens.screen() == Screen::practice);
        CHECK(player.screens.drillAfter(builtInDrills().back().name).drill.name == name);
    }
    Player again(folder, seen());
    again.press({'2'});
    CHECK(again.wait(
        [&] { return again.shown().drills.rows.size() == builtInDrills().size() + 1 + builtInPhrases().size(); }));
    CHECK(again.shown().drills.rows[builtInDrills().size()].name == name);
}

TEST_CASE("screens: F11 fills the display and goes back, on every screen, and that and the window's size are kept") {
    const TestFolder folder;
    constexpr int f11 = 300;
    {
        Player player(folder, seen());
        for (const int screen : {'1', '2', '3', '4', '5', '6'}) {
            CAPTURE(screen);
            player.press({screen, f11});
            CHECK(player.shown().window.full);
            player.press({f11});
            CHECK_FALSE(player.shown().window.full);
        }
        // while a key is being learned it is not taken for one
        player.press({'4'});
        player.toSetting("again");
        player.press({enter});
        player.press({f11});
        CHECK(player.shown().window.full);
        CHECK(player.screens.settings().keys.again == seen().keys.again);
        player.screens.act({Intent::Kind::resized, Screen::practice, packedSize(1600, 900)});
        CHECK(player.shown().window.width == 1600);
        CHECK(player.shown().window.height == 900);
        player.screens.end();
    }
    const auto kept = loadSettings(folder / "settings.toml");
    REQUIRE(kept);
    CHECK(kept->settings.fullScreen);
    CHECK(kept->settings.windowWidth == 1600);
    CHECK(kept->settings.windowHeight == 900);
}

TEST_CASE("screens: a change in the settings is taken over at once and kept; one that cannot be saved is said") {
    const TestFolder folder;
    {
        Player player(folder, seen());
        player.press({'4'});
        player.toSetting("colours");
        CHECK(player.shown().dark);
        CHECK(player.press({right}).newSettings);
        CHECK_FALSE(player.shown().dark);
    }
    CHECK(loadSettings(folder / "settings.toml")->settings.theme == Theme::light);
    std::filesystem::create_directory(folder / "in the way");
    Screens screens({folder / "in the way", folder / "drills", [&] { return folder / "log.sqlite"; }, {}}, seen());
    screens.act({Intent::Kind::open, Screen::settings, 0});
    // the guitar's strings
    for (const auto kind : {Intent::Kind::choose, Intent::Kind::following, Intent::Kind::following, Intent::Kind::more})
        screens.act({kind, Screen::settings, 0});
    Snapshot shown;
    for (int i = 0; i < 500 && shown.settings.message.empty(); ++i) {
        screens.poll();
        screens.fill(shown);
        std::this_thread::sleep_for(std::chrono::milliseconds(5));
    }
    CHECK(shown.settings.message.find("in the way") != std::string::npos);
}

TEST_CASE("screens: the string check hears a guitar, and a tuning that it finds is taken over") {
    const TestFolder folder;
    Player player(folder, seen());
    player.press({'5'});
    SimulatedPlayer hand({.skill = exactPlayer(), .stringOffsets = std::vector<Cents>(6, Cents(-100.0))});
    std::vector<float> block(480);
    int played = 0;
    for (int i = 0; i < 4000 && player.shown().strings.question.empty(); ++i) {
        if (hand.queued().value <= 0.0 && ++played <= 12) hand.playOpenString(player.screens.askedString());
        hand.read(block);
        quantise(block);
        player.screens.hear(block, 48000.0);
    }
    REQUIRE(player.shown().strings.question.find("half step") != std::string::npos);
    CHECK(player.press({enter}).newSettings);
    CHECK(tuningName(player.screens.settings().guitar.openStrings) == "half step down");
    player.press({enter});
    CHECK(player.screens.screen() == Screen::practice);
    CHECK(player.screens.askedString() == 0);
}

TEST_CASE("work beside: answers come back in order on the asking thread, and at the end only what must be is done") {
    std::atomic<int> done{0};
    std::vector<int> order;
    std::atomic<bool> open{false};
    {
        SideWork beside;
        const auto asking = std::this_thread::get_id();
        for (int i = 0; i < 5; ++i)
            beside.ask([&, i]() -> SideWork::Answer {
                return [&, i] {
                    CHECK(std::this_thread::get_id() == asking);
                    order.push_back(i);
                };
            });
        for (int i = 0; i < 1000 && order.size() < 5; ++i) {
            beside.take();
            std::this_thread::sleep_for(std::chrono::milliseconds(2));
        }
        CHECK(order == std::vector<int>{0, 1, 2, 3, 4});
        beside.ask([&]() -> SideWork::Answer {
            while (!open) std::this_thread::sleep_for(std::chrono::milliseconds(1));
            return {};
        });
        beside.ask([&]() -> SideWork::Answer {
            done += 100;
            return {};
        });
        beside.ask(
            [&]() -> SideWork::Answer {
                done += 1;
                return {};
            },
            true);
        std::thread([&] {
            std::this_thread::sleep_for(std::chrono::milliseconds(50));
            open = true;
        }).detach();
    }
    CHECK(done == 1);
}
