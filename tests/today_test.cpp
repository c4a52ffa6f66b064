#include <doctest/doctest.h>

#include <cstdlib>

#include "gui/intent.h"
#include "src/app/trainer.h"
#include "src/formats/settings_file.h"
#include "src/review/homework.h"
#include "src/store/lessons.h"
#include "src/store/students.h"
#include "tests/support/command.h"
#include "tests/support/program.h"

using namespace landfall;

namespace {

const std::string week =
    "title = \"Week 3\"\nfrom = \"Mara Quill\"\n[[task]]\ntries = 4\naim = 40\nnote = \"Eyes "
    "closed.\"\n[task.drill]\nname = \"Two halves\"\n"
    "tries = 4\nguided = 0\nlast_set_by_ear = false\n[[task.drill.step]]\ngesture = \"bend\"\nto = 1\n"
    "[[task.drill.place]]\nstring = 2\nfrets = 8\n[[task]]\nphrase = \"Lantern Street\"\npasses = 1\n";

// A window's program without its window, the simulated student playing fast.
class Evening {
public:
    explicit Evening(int minutes = 10, GoOn goOn = GoOn::key) {
        ::setenv("XDG_CONFIG_HOME", (folder / "config").c_str(), 1);
        ::setenv("XDG_DATA_HOME", (folder / "data").c_str(), 1);
        Settings settings;
        settings.cautionsSeen = "2027-03-01";
        settings.todayMinutes = minutes;
        settings.goOn = goOn;
        REQUIRE(saveSettings(settingsFile().value(), settings));
        writeText(folder / "week.lesson.toml", week);
    }
    void start(const std::string& lesson = "") {
        TrainerConfig config;
        config.source.input = "simulated";
        config.source.seed = 3;
        config.source.pace = 20.0;
        config.sitting.student = "Ines";
        config.sitting.log = (folder / "log.sqlite").string();
        config.lesson = lesson;
        config.findDevices = [] { return Result<std::vector<SoundDevice>>(std::vector<SoundDevice>{}); };
        auto started = Trainer::start(config);
        REQUIRE_MESSAGE(started, started.error().message);
        trainer = std::move(*started);
    }
    std::shared_ptr<const Snapshot> now() const { return trainer->snapshot(); }
    void press(int key) {
        for (const Intent& intent : intentsForKey(*now(), key)) trainer->act(intent);
    }
    template <typename Condition>
    bool until(double seconds, Condition&& condition) {
        return test::within(seconds, [&] { return condition(*now()); });
    }
    std::vector<Homework> homework() const {
        auto log = Log::open(folder / "log.sqlite", Log::Access::read);
        REQUIRE(log);
        const auto student = findStudent(*log, "Ines");
        REQUIRE(student);
        auto found = homeworkOf(*log, *student);
        REQUIRE(found);
        return *found;
    }

    const TestFolder folder;
    std::unique_ptr<Trainer> trainer;
};

constexpr int enterKey = 257, downKey = 264;

}  // namespace

TEST_CASE("Today, from its press to its end: strings, warm-up, homework, what next, what was done, one thing to keep") {
    Evening evening;
    evening.start((evening.folder / "week.lesson.toml").string());
    REQUIRE(evening.until(20.0, [](const Snapshot& s) {
        return s.screen == Screen::today && s.today.rows.size() == 4 && !s.today.message.empty();
    }));
    CHECK(evening.now()->today.message == "Taken in: Week 3");
    CHECK(evening.now()->today.title == "Week 3, from Mara Quill");
    CHECK(evening.now()->today.rows[1].done == "not begun");
    evening.press('7');
    evening.press(enterKey);
    REQUIRE(evening.until(10.0, [](const Snapshot& s) { return s.screen == Screen::stringCheck; }));
    REQUIRE(evening.until(60.0, [](const Snapshot& s) { return s.strings.asked == 0; }));
    evening.press(enterKey);
    std::vector<std::string> played;
    std::size_t pressedAt = 0;  // so many parts
    const bool ended = evening.until(200.0, [&](const Snapshot& s) {
        if (s.screen == Screen::today) return s.today.ended;
        if (s.screen != Screen::practice) return false;
        const std::string& name = s.stones ? s.stones->line : s.practice.drill;
        if (!name.empty() && (played.empty() || played.back() != name)) played.push_back(name);
        const std::string& does = s.stones ? s.stones->nextDoes : s.practice.nextDoes;
        if (does == "go on with today" && pressedAt != played.size()) {
            pressedAt = played.size();
            evening.press(enterKey);
            evening.press(enterKey);  // twice does no more
        } else if (does != "go on with today") pressedAt = 0;
        return false;
    });
    std::string order;
    for (const std::string& each : played) order += each + ", ";
    CAPTURE(order);
    REQUIRE(ended);
    REQUIRE(played.size() >= 4);
    CHECK(played[0] == "Warm-up");
    CHECK(played[1] == "Two halves");
    CHECK(played[2] == "Lantern Street");
    CHECK(played[3] == "What next");
    const Today end = evening.now()->today;
    REQUIRE(end.rows.size() >= 4);
    CHECK(end.rows[0].name == "Warm-up");
    CHECK(end.rows[2].done == "1 pass");
    CHECK_FALSE(end.keep.empty());
    evening.press(enterKey);
    CHECK(evening.until(20.0, [](const Snapshot& s) {
        return !s.today.ended && s.today.rows.size() >= 3 && s.today.rows[1].done.starts_with("done");
    }));
    REQUIRE(evening.trainer->end() == 0);
    const auto done = evening.homework();
    REQUIRE(done.size() == 1);
    CHECK(done[0].tasks[0].tries == 4);
    CHECK(done[0].tasks[1].tries >= 1);
    // Marked by the aim that was asked.
    auto log = Log::open(evening.folder / "log.sqlite", Log::Access::read);
    const auto tries = log->triesOfDrill(*findStudent(*log, "Ines"), "Two halves", CalendarTime{});
    REQUIRE(tries);
    for (const TryInSitting& one : *tries) CHECK(one.oneTry.aim == Cents(40.0));
}

TEST_CASE("Today goes hands free: after its one press the strings, the warm-up and the homework come without a key") {
    Evening evening(1, GoOn::waiting);
    evening.start((evening.folder / "week.lesson.toml").string());
    REQUIRE(
        evening.until(20.0, [](const Snapshot& s) { return s.screen == Screen::today && s.today.rows.size() == 4; }));
    evening.press(enterKey);
    std::vector<std::string> played;
    const bool begun = evening.until(240.0, [&](const Snapshot& s) {
        const std::string& name = s.stones ? s.stones->line : s.practice.drill;
        if (s.screen == Screen::practice && !name.empty() && (played.empty() || played.back() != name))
            played.push_back(name);
        return played.size() >= 2;
    });
    std::string order;
    for (const std::string& each : played) order += each + ", ";
    CAPTURE(order);
    REQUIRE(begun);
    CHECK(played[0] == "Warm-up");
    CHECK(played[1] == "Two halves");
}

TEST_CASE("one task of the homework is played by itself, and another drill ends Today: the player may always choose") {
    Evening evening;
    evening.start((evening.folder / "week.lesson.toml").string());
    REQUIRE(evening.until(20.0, [](const Snapshot& s) { return s.today.rows.size() == 4; }));
    evening.press(downKey);
    REQUIRE(evening.until(5.0, [](const Snapshot& s) { return s.today.selected == 1; }));
    CHECK(evening.now()->today.note == "Eyes closed.");
    evening.press(enterKey);
    REQUIRE(evening.until(60.0, [](const Snapshot& s) {
        return s.screen == Screen::practice && s.practice.drill == "Two halves"
               && s.practice.moment == Moment::endOfDrill;
    }));
    CHECK(evening.now()->practice.nextDoes == "next drill");
    // T begins Today from practice; a drill chosen from the list is then played, and nothing goes on behind it.
    evening.press('T');
    REQUIRE(evening.until(10.0, [](const Snapshot& s) { return s.screen == Screen::stringCheck; }));
    evening.press('2');
    REQUIRE(
        evening.until(10.0, [](const Snapshot& s) { return s.screen == Screen::drills && !s.drills.rows.empty(); }));
    evening.press(enterKey);
    REQUIRE(evening.until(200.0, [](const Snapshot& s) {
        return s.screen == Screen::practice && s.practice.moment == Moment::endOfDrill;
    }));
    CHECK(evening.now()->practice.nextDoes == "next drill");
    CHECK(evening.trainer->end() == 0);
}

TEST_CASE("a dropped file that is no lesson is told in one line with its place, and changes nothing") {
    Evening evening;
    writeText(evening.folder / "bad.lesson.toml", "title = \"Week 3\"\n[[task]]\ndrill = \"Hlaf up\"\n");
    evening.start();
    evening.trainer->act({Intent::Kind::dropped, Screen::practice, 0, (evening.folder / "bad.lesson.toml").string()});
    REQUIRE(evening.until(20.0, [](const Snapshot& s) { return !s.today.message.empty(); }));
    CHECK(evening.now()->today.message.find("bad.lesson.toml:3:9: no drill 'Hlaf up': nearest are 'Half up'")
          != std::string::npos);
    evening.press('7');
    CHECK(evening.until(10.0, [](const Snapshot& s) { return s.today.title == "No homework"; }));
    CHECK(evening.trainer->end() == 0);
}
