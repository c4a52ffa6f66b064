#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <string>

#include "dsp/quantise.h"
#include "src/app/screens/history_screen.h"
#include "src/audio/simulated_player.h"
#include "src/audio/take_file.h"
#include "src/practice/listener.h"
#include "src/store/totals.h"
#include "tests/support/command.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

using Asked = TryChosen::Kind;

// GLFW 3.3 key codes (glfw3.h, "Keyboard keys").
constexpr int enter = 257, backspace = 259, escape = 256, right = 262, left = 263, down = 264, up = 265;

std::optional<TryChosen> press(HistoryScreen& screen, std::initializer_list<int> keys) {
    std::optional<TryChosen> wish;
    for (const int key : keys) {
        Snapshot shown;
        shown.screen = Screen::history;
        shown.history = screen.view();
        for (const Intent& intent : intentsForKey(shown, key)) wish = screen.act(intent).oneTry;
    }
    return wish;
}

CalendarTime dayAt(int day, int hour) {
    using namespace std::chrono;
    return CalendarTime(sys_days(year(2027) / 3 / 1) + days(day) + hours(hour));
}

LoggedTry bendTry(int number, double firstStop, CalendarTime at) {
    LoggedTry one;
    one.number = number;
    one.at = at;
    one.drill = "Whole up";
    Landing& landing = one.landing;
    landing.move = {Gesture::bend, MidiPitch(62), MidiPitch(64), NeckPlace{3, 7}, {}};
    landing.verdict = std::abs(firstStop) <= 5.0 ? Verdict::deadOn : firstStop < 0.0 ? Verdict::under : Verdict::over;
    landing.sentence = "said of try " + std::to_string(number);
    landing.onset = Seconds(1.0);
    landing.end = Seconds(3.0);
    landing.landingTime = Seconds(1.7);
    landing.firstStopError = landing.landingError = Cents(firstStop);
    landing.sd = Cents(0.6);
    return one;
}

// Two sittings of Ines: a struck try, a try that died, a slide.
std::vector<ReadSitting> twoSittings() {
    ReadSitting first, second;
    first.summary.id = 1;
    first.summary.sitting.student = "Ines";
    first.summary.sitting.started = dayAt(0, 12);
    first.summary.drills = {"Whole up"};
    first.tries = {bendTry(1, -40.0, dayAt(0, 12)), bendTry(2, -10.0, dayAt(0, 12))};
    second.summary.id = 2;
    second.summary.sitting.student = "Ines";
    second.summary.sitting.started = dayAt(1, 12);
    second.summary.drills = {"Whole up", "Twelve along"};
    second.tries = {bendTry(1, 3.0, dayAt(1, 12)), bendTry(2, 90.0, dayAt(1, 12)), bendTry(3, 0.0, dayAt(1, 12)),
                    bendTry(4, 0.0, dayAt(1, 12))};
    second.tries[1].struck = true;
    second.tries[2].landing = {};
    second.tries[2].landing.move = second.tries[0].landing.move;
    second.tries[2].landing.verdict = Verdict::died;
    Landing& slide = second.tries[3].landing;
    slide.move = {Gesture::slide, MidiPitch(62), MidiPitch(74), NeckPlace{2, 3}, 15};
    slide.landedFret = 15;
    slide.verdict = Verdict::inTune;
    return {first, second};
}

// A full-step bend of the simulated player, marked by the Listener and kept as a take.
struct PlayedTry {
    LoggedTry logged;
    MoveTruth truth;
};
PlayedTry playedTry(const std::filesystem::path& take, Target target, Cents startError) {
    SimulatedPlayer player({.skill = exactPlayer()});
    const Move move{Gesture::bend, MidiPitch(62), MidiPitch(64), NeckPlace{3, 7}, {}};
    Listener listener({.target = target});
    listener.setMoves({move}, MoveOrder::everyTry);
    TakeKeeper keeper({}, [](const TakeKeeper::Kept& kept) { CHECK(kept.error.empty()); });
    PlayedTry played;
    player.rest(Seconds(1.0));
    PlayerWish wish;
    wish.firstStopError = Cents(-22.0);
    wish.startError = startError;
    player.play(move, wish);
    std::vector<float> block(480);
    bool ended = false;
    for (int i = 0; i < 800 && !ended; ++i) {
        player.read(block);
        quantise(block);
        keeper.hear(block);
        for (const ListenerEvent& event : listener.process(block))
            if (const auto* over = std::get_if<TryEnded>(&event)) {
                played.logged.landing = over->landing;
                ended = true;
            }
    }
    REQUIRE(ended);
    REQUIRE(played.logged.landing.landingError);
    played.truth = player.truths().back();
    played.logged.drill = "Whole up";
    played.logged.takeFile = take.string();
    REQUIRE(keeper.keep(played.logged.landing.onset, played.logged.landing.end, take));
    return played;
}

double heldMedian(const Trace& trace, const Landing& landing) {
    const double arrival = (*landing.landingTime - landing.onset).value;
    std::vector<double> held;
    for (const TracePoint& point : trace.points)
        if (point.fromTarget && point.sinceStroke.value > arrival + 0.06 && point.sinceStroke.value < arrival + 0.31)
            held.push_back(point.fromTarget->value);
    REQUIRE(held.size() > 20);
    std::nth_element(held.begin(), held.begin() + static_cast<std::ptrdiff_t>(held.size() / 2), held.end());
    return held[held.size() / 2];
}

}  // namespace

TEST_CASE("history: an empty log is an empty list, and keys do nothing in it") {
    HistoryScreen screen;
    screen.reading();
    CHECK(screen.view().message == "Reading the log ...");
    screen.setLog({});
    CHECK(screen.view().message.empty());
    CHECK(screen.view().sittings.empty());
    CHECK_FALSE(press(screen, {down, right, enter, backspace, left, up}));
    CHECK_FALSE(screen.view().selectedTry);
}

TEST_CASE("history: sittings stand with the newest first, each with its drills, its tries and how many were inside") {
    HistoryScreen screen;
    screen.setLog(twoSittings());
    const History& history = screen.view();
    REQUIRE(history.sittings.size() == 2);
    CHECK(history.sittings[0].date.find("2 March") == 0);
    CHECK(history.sittings[0].drills == "Whole up, Twelve along");
    // Four tries, one of them struck; the bend of 3 cents and the slide on its fret are inside.
    CHECK(history.sittings[0].result == "bends 1 of 2 inside, slides 1 of 1");
    CHECK(history.sittings[1].result == "bends 1 of 2 inside");
    CHECK(history.tries.size() == 4);
    CHECK(history.tries[0].move == "full step, G 7");
    CHECK(history.tries[0].words == "dead on");
    CHECK(history.tries[1].struck);
    CHECK(history.tries[2].words == "died");
    CHECK(history.tries[3].move == "slide an octave, B 3");
    press(screen, {down});
    CHECK(screen.view().sitting == 1);
    CHECK(screen.view().tries.size() == 2);
}

TEST_CASE(
    "history: each gesture has its typical miss and share inside, struck tries left out, and says that it is too early "
    "for a trend") {
    HistoryScreen screen;
    screen.setLog(twoSittings());
    const auto& gestures = screen.view().gestures;
    REQUIRE(gestures.size() == 2);
    CHECK(gestures[0].gesture == "bends");
    CHECK(gestures[0].miss == "usually 10 ¢ off");       // of 40, 10, 3
    CHECK(gestures[0].inside == "50 % inside the aim");  // 10 and 3 of four, one of which died
    CHECK(gestures[0].trend == "Too early for a trend");
    CHECK(gestures[1].gesture == "slides");
    CHECK(gestures[1].inside == "100 % inside the aim");
}

TEST_CASE("history: a trend needs twenty tries on ten days") {
    std::vector<LoggedTry> tries;
    for (int i = 0; i < 40; ++i) tries.push_back(bendTry(i + 1, 5.0, dayAt(i % 9, 12)));
    CHECK_FALSE(enoughForTrend(tries, Gesture::bend));  // nine days
    tries.push_back(bendTry(41, 5.0, dayAt(9, 12)));
    CHECK(enoughForTrend(tries, Gesture::bend));
    for (LoggedTry& one : tries) one.guided = one.number <= 22;
    CHECK_FALSE(enoughForTrend(tries, Gesture::bend));  // nineteen
    for (LoggedTry& one : tries) one.guided = one.number <= 9;
    CHECK(enoughForTrend(tries, Gesture::bend));
    for (LoggedTry& one : tries) one.struck = one.number == 41;
    CHECK_FALSE(enoughForTrend(tries, Gesture::bend));
    for (LoggedTry& one : tries) one.struck = one.guided = false;
    CHECK(enoughForTrend(tries, Gesture::bend));
    CHECK_FALSE(enoughForTrend(tries, Gesture::slide));
    for (LoggedTry& one : tries) one.landing.verdict = one.number == 41 ? Verdict::twoStrings : Verdict::near;
    CHECK_FALSE(enoughForTrend(tries, Gesture::bend));
}

TEST_CASE("history: right goes into the tries, backspace strikes one and restores it, and the totals follow at once") {
    HistoryScreen screen;
    screen.setLog(twoSittings());
    press(screen, {down, right});
    CHECK(screen.view().selectedTry == 0);
    auto wish = press(screen, {backspace});
    REQUIRE(wish);
    CHECK(wish->kind == Asked::strike);
    CHECK(wish->sittingId == 1);
    CHECK(wish->oneTry.number == 1);
    CHECK(screen.view().tries[0].struck);
    CHECK(screen.view().sittings[1].result == "bends 1 of 1 inside");
    CHECK(screen.view().gestures[0].miss == "usually 6 ¢ off");  // of 10 and 3: 6.5
    wish = press(screen, {backspace});
    REQUIRE(wish);
    CHECK(wish->kind == Asked::restore);
    CHECK_FALSE(screen.view().tries[0].struck);
    press(screen, {left});
    CHECK_FALSE(screen.view().selectedTry);
    CHECK_FALSE(press(screen, {backspace}));  // no sitting is struck
}

TEST_CASE("history: striking in a log on the disk is there after the next start") {
    const TestFolder folder;
    {
        auto log = Log::open(folder / "log.sqlite", Log::Access::write);
        REQUIRE(log);
        for (const ReadSitting& sitting : twoSittings())
            for (const LoggedTry& one : sitting.tries) REQUIRE(log->put(sitting.summary.sitting, one));
    }
    HistoryScreen screen;
    auto read = readHistory(folder / "log.sqlite", "Ines");
    REQUIRE(read);
    screen.setLog(*read);
    REQUIRE(screen.view().sittings.size() == 2);
    const auto wish = press(screen, {right, backspace});
    REQUIRE(wish);
    auto log = Log::open(folder / "log.sqlite", Log::Access::write);
    REQUIRE(log->setStruck(wish->sittingId, wish->oneTry.number, wish->oneTry.struck));
    screen.setLog(*readHistory(folder / "log.sqlite", "Ines"));
    CHECK(screen.view().selectedTry == 0);  // where one was
    CHECK(screen.view().tries[0].struck);
    CHECK(readHistory(folder / "log.sqlite", "Noor")->empty());
    CHECK(readHistory(folder / "not there.sqlite", "Ines")->empty());
    CHECK(*readStudents(folder / "log.sqlite") == std::vector<std::string>{"Ines"});
    writeText(folder / "text.sqlite", "this is no log");
    CHECK_FALSE(readHistory(folder / "text.sqlite", "Ines"));
}

TEST_CASE("history: a try without a kept sound shows its quantities and says why there is no trace") {
    HistoryScreen screen;
    screen.setLog(twoSittings());
    CHECK_FALSE(press(screen, {down, right, enter}));
    REQUIRE(screen.view().opened);
    const OpenedTry& opened = *screen.view().opened;
    CHECK(opened.title == "Whole up · G string · fret 7 · full step");
    CHECK(opened.sentence == "said of try 1");
    CHECK_FALSE(opened.sweep);
    CHECK(opened.sound.find("The sound of this try was not kept") == 0);
    std::map<std::string, std::string> quantities;
    for (const Quantity& each : opened.quantities) quantities[each.name] = each.value;
    CHECK(quantities["first stop"] == "40 ¢ under");
    CHECK(quantities["landing"] == "40 ¢ under ±0.6");
    CHECK(quantities["arrival after"] == "0.70 s");
    CHECK(quantities["aim"] == "±25 ¢");
    CHECK(quantities.count("vibrato") == 0);
    CHECK_FALSE(press(screen, {enter}));  // nothing to hear
    press(screen, {down});
    CHECK(screen.view().opened->sentence == "said of try 2");
    press(screen, {escape});
    CHECK_FALSE(screen.view().opened);
    CHECK(screen.view().selectedTry == 1);
}

TEST_CASE("history: a kept take gives back the try's trace as it was marked, and its sound") {
    const TestFolder folder;
    const PlayedTry played = playedTry(folder / "take.flac", Target::concert, Cents(0.0));
    ReadSitting sitting;
    sitting.summary.id = 7;
    sitting.tries = {played.logged};
    HistoryScreen screen;
    screen.setLog({sitting});
    auto wish = press(screen, {right, enter});
    REQUIRE(wish);
    CHECK(wish->kind == Asked::read);
    CHECK(screen.view().opened->sound == "Reading its sound ...");
    const auto take = readTake(wish->oneTry, wish->guitar);
    REQUIRE_MESSAGE(take, (take ? "" : take.error().message));
    // The same tracker on the same samples, begun half a second before the stroke instead of a second and a half:
    // within half a cent. The player's own truth within the tracker's 3 cents.
    const Landing& landing = played.logged.landing;
    CHECK(std::abs(heldMedian(take->trace, landing) - landing.landingError->value) < 0.5);
    CHECK(std::abs(heldMedian(take->trace, landing) - played.truth.landingError->value) < 3.0);
    CHECK(take->trace.points.front().sinceStroke.value < 0.05);
    CHECK(take->samples.size()
          == doctest::Approx((0.5 + (landing.end - landing.onset).value) * 48000.0).epsilon(0.001));
    screen.setTake(7, played.logged.number, take);
    REQUIRE(screen.view().opened->sweep);
    CHECK(screen.view().opened->sweep->traces.size() == 1);
    CHECK(screen.view().opened->sweep->steps.at(0).start == Cents(-200.0));
    wish = press(screen, {enter});
    REQUIRE(wish);
    CHECK(wish->kind == Asked::play);
    CHECK(press(screen, {enter})->kind == Asked::stop);
    press(screen, {enter});
    screen.played();
    CHECK(screen.view().opened->sound == "Enter plays it.");
    press(screen, {enter});
    screen.cannotPlay();
    CHECK(screen.view().opened->sound.find("no sound output") != std::string::npos);
}

TEST_CASE("history: a try marked from its start note is drawn against that target") {
    const TestFolder folder;
    const PlayedTry played = playedTry(folder / "take.flac", Target::startNote, Cents(15.0));
    const auto take = readTake(played.logged, Guitar{});
    REQUIRE(take);
    CHECK(std::abs(heldMedian(take->trace, played.logged.landing) - played.logged.landing.landingError->value) < 0.1);
}

TEST_CASE("history: a sound file that is gone is named, and a late answer for another try changes nothing") {
    auto sittings = twoSittings();
    sittings[0].tries[0].takeFile = "/nowhere/take.flac";
    HistoryScreen screen;
    screen.setLog(sittings);
    const auto wish = press(screen, {down, right, enter});
    REQUIRE(wish);
    screen.setTake(1, 2, ReadTake{});
    CHECK_FALSE(screen.view().opened->sweep);
    screen.setTake(wish->sittingId, wish->oneTry.number, readTake(wish->oneTry, wish->guitar));
    CHECK(screen.view().opened->sound.find("/nowhere/take.flac") != std::string::npos);
    CHECK(press(screen, {backspace})->kind == Asked::strike);
    CHECK(screen.view().opened->sentence.find("(dropped)") != std::string::npos);
}

TEST_CASE("history: a click on a try marks it, a second one opens it") {
    HistoryScreen screen;
    screen.setLog(twoSittings());
    screen.act({Intent::Kind::pick, Screen::history, -3});
    CHECK(screen.view().selectedTry == 2);
    screen.act({Intent::Kind::pick, Screen::history, -3});
    CHECK(screen.view().opened);
    screen.act({Intent::Kind::less, Screen::history, 0});
    screen.act({Intent::Kind::pick, Screen::history, 1});
    CHECK(screen.view().sitting == 1);
    CHECK_FALSE(screen.view().selectedTry);
}
