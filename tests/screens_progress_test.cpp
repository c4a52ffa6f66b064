#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <string>

#include <fmt/core.h>

#include "dsp/quantise.h"
#include "src/app/screens/progress_screen.h"
#include "src/audio/simulated_player.h"
#include "src/audio/take_file.h"
#include "src/practice/listener.h"
#include "tests/support/command.h"
#include "tests/support/invented_practice.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

using Asked = TryChosen::Kind;

struct PlayedSitting {
    Sitting sitting;
    std::vector<LoggedTry> tries;
};

// GLFW 3.3 key codes (glfw3.h, "Keyboard keys").
constexpr int enter = 257, backspace = 259, escape = 256, right = 262, left = 263, down = 264, up = 265, sittings = 'S';

// A screen on a log in a folder of its own; what it asks to be read is read at once.
struct Reader {
    TestFolder folder;
    std::filesystem::path file = folder / "log.sqlite";
    ProgressScreen screen;

    explicit Reader(const std::vector<PlayedSitting>& played = {}) {
        if (played.empty()) return;
        auto log = Log::open(file, Log::Access::write);
        REQUIRE(log);
        for (const PlayedSitting& each : played) REQUIRE(log->putAll(each.sitting, each.tries));
        read();
    }
    void read() {
        auto found = readProgress(file, "Ines");
        REQUIRE_MESSAGE(found, found.error().message);
        screen.setLog(std::move(*found));
        more();
    }
    void more() {
        while (const auto wanted = screen.toRead())
            if (wanted->what == ToRead::What::neighbours) screen.setNeighbours(*wanted, readNeighbours(file, *wanted));
            else screen.setTries(*wanted, readTries(file, *wanted));
    }
    std::optional<TryChosen> press(std::initializer_list<int> keys) {
        std::optional<TryChosen> wish;
        for (const int key : keys) {
            Snapshot shown;
            shown.screen = Screen::progress;
            shown.progress = screen.view();
            for (const Intent& intent : intentsForKey(shown, key)) act(intent, wish);
        }
        return wish;
    }
    void act(const Intent& intent, std::optional<TryChosen>& wish) {
        wish = screen.act(intent).oneTry;
        more();
    }
    void click(int value) {
        std::optional<TryChosen> ignored;
        act({Intent::Kind::pick, Screen::progress, value}, ignored);
    }
    const ProgressPages& shown() const { return screen.view(); }
    const Overview& overview() const {
        REQUIRE(shown().overview);
        return *shown().overview;
    }
};

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
std::vector<PlayedSitting> twoSittings() {
    PlayedSitting first, second;
    for (PlayedSitting* one : {&first, &second}) one->sitting.student = "Ines";
    first.sitting.started = dayAt(0, 12);
    first.tries = {bendTry(1, -40.0, dayAt(0, 12)), bendTry(2, -10.0, dayAt(0, 12))};
    second.sitting.started = dayAt(1, 12);
    second.tries = {bendTry(1, 3.0, dayAt(1, 12)), bendTry(2, 90.0, dayAt(1, 12)), bendTry(3, 0.0, dayAt(1, 12)),
                    bendTry(4, 0.0, dayAt(1, 12))};
    second.tries[1].struck = true;
    second.tries[2].landing = {};
    second.tries[2].landing.move = second.tries[0].landing.move;
    second.tries[2].landing.verdict = Verdict::died;
    second.tries[3].drill = "Twelve along";
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

TEST_CASE("progress: an empty log is an empty page, and keys do nothing in it") {
    Reader reader;
    reader.screen.reading();
    CHECK(reader.shown().message == "Reading the log ...");
    reader.read();
    CHECK(reader.shown().message.empty());
    CHECK(reader.shown().sittings.empty());
    CHECK_FALSE(reader.press({down, right, enter, backspace, left, up, sittings}));
    CHECK_FALSE(reader.shown().overview);
    CHECK_FALSE(reader.shown().selectedTry);
    writeText(reader.file, "this is no log");
    CHECK_FALSE(readProgress(reader.file, "Ines"));
}

TEST_CASE("progress: sittings stand with the newest first, each with its drills, its tries and how many were inside") {
    Reader reader(twoSittings());
    reader.press({sittings});
    const ProgressPages& pages = reader.shown();
    REQUIRE(pages.sittings.size() == 2);
    CHECK(pages.sittings[0].date.find("2 March") == 0);
    CHECK(pages.sittings[0].drills == "Whole up, Twelve along");
    // Four tries, one of them struck; the bend of 3 cents and the slide on its fret are inside.
    CHECK(pages.sittings[0].result == "bends 1 of 2 inside, slides 1 of 1");
    CHECK(pages.sittings[1].result == "bends 1 of 2 inside");
    REQUIRE(pages.tries.size() == 4);
    CHECK(pages.tries[0].move == "full step, G 7");
    CHECK(pages.tries[0].words == "dead on");
    CHECK(pages.tries[1].struck);
    CHECK(pages.tries[2].words == "died");
    CHECK(pages.tries[3].move == "slide an octave, B 3");
    reader.press({down});
    CHECK(pages.sitting == 1);
    CHECK(pages.tries.size() == 2);
    reader.press({left});
    CHECK(reader.shown().overview);
}

TEST_CASE("progress: a kind's figures are the review's, and nothing is said that few days cannot carry") {
    Reader reader(twoSittings());
    const auto review = readProgress(reader.file, "Ines");
    REQUIRE(review);
    const Overview& overview = reader.overview();
    CHECK(overview.kind == "Full step bends");
    CHECK(overview.of == "1 of 2");
    CHECK(overview.lean == "Played on 2 days: it takes three to say how it leans");
    CHECK(overview.trend.find("Too early for a trend") != std::string::npos);
    REQUIRE(overview.map.size() == 1);
    CHECK(overview.map[0].lean == MapMark::Lean::few);  // three tries
    CHECK(overview.map[0].bias == "3 ×");
    CHECK(overview.map[0].doubt.empty());
    std::map<std::string, std::string> figures;
    for (const Quantity& each : overview.figures) figures[each.name] = each.value;
    CHECK(figures["inside the aim"] == "2 of 4");  // 40, 10 and 3 cents, one died
    CHECK(figures["under it"] == "1 of 4");
    CHECK(figures["over it"] == "0 of 4");
    CHECK(figures["lost"] == "1 of 4");
    CHECK(figures["usually off by"] == fmt::format("{:.0f} ¢", review->kinds[0].typicalMiss));
    CHECK(figures["usually off by"] == "10 ¢");
    CHECK(figures["time to arrive"] == "0.70 s");
    CHECK(overview.days.size() == 2);
    CHECK(overview.care.find("limit") != std::string::npos);
    reader.press({right});
    CHECK(reader.overview().kind == "Slides");
    CHECK(reader.overview().lean == "1 of 1 on the fret that was asked");
    CHECK(reader.overview().map.empty());
    CHECK(reader.overview().mapWords.find("no map of cents") != std::string::npos);
}

TEST_CASE("progress: every figure opens as many tries as it was counted from, and each of them is one of its kind") {
    const TestFolder other;
    Reader reader;
    {
        auto log = Log::open(reader.file, Log::Access::write);
        REQUIRE(log);
        REQUIRE(inventPractice(*log, "Ines", calendarNow() - std::chrono::hours(24 * 30), 24, 36, 5));
    }
    reader.read();
    const auto review = readProgress(reader.file, "Ines");
    REQUIRE(review);
    const KindReview& kind = review->kinds.front();
    const auto opened = [&](Overview::Part part, int index) {
        const int first = part == Overview::Part::map    ? pickedMap
                          : part == Overview::Part::days ? pickedDays
                                                         : pickedFigures;
        reader.click(-1);
        reader.click(first + index);
        reader.click(first + index);
        const std::string title = reader.shown().behind;
        CAPTURE(title);
        REQUIRE(reader.shown().selectedTry == 0);
        int count = 0;
        const auto of = title.find(" tries");
        REQUIRE(of != std::string::npos);
        count = std::stoi(title.substr(title.rfind(' ', of - 1) + 1));
        CHECK(std::ssize(reader.shown().tries) == std::min(count, 200));
        CHECK(reader.shown().here);
        reader.press({left});
        return count;
    };
    const std::vector<Quantity> figures = reader.overview().figures;
    int first = 0, later = 0;
    for (const Progress& each : review->progress)
        if (each.kind == kind.kind)
            for (const DayMean& day : each.days) first += day.cold.count, later += day.warm.count;
    const std::map<std::string, int> expected{{"inside the aim", kind.inside},
                                              {"under it", kind.under},
                                              {"over it", kind.over},
                                              {"lost", kind.lost},
                                              {"usually off by", kind.measured},
                                              {"spread", kind.measured},
                                              {"time to arrive", kind.tries},
                                              {"a day's first tries", first},
                                              {"its later tries", later}};
    CHECK(figures.size() == expected.size());
    for (std::size_t i = 0; i < figures.size(); ++i) {
        CAPTURE(figures[i].name);
        CHECK(opened(Overview::Part::figures, static_cast<int>(i)) == expected.at(figures[i].name));
    }
    CHECK(kind.inside + kind.under + kind.over + kind.lost == kind.tries);
    int place = 0;
    for (const MapCell& cell : review->map.cells)
        if (cell.kind == kind.kind) CHECK(opened(Overview::Part::map, place++) == cell.tries);
    CHECK(place > 0);
    const Progress& progress = *std::ranges::find(review->progress, kind.kind, &Progress::kind);
    for (const int day : {0, static_cast<int>(progress.days.size()) - 1}) {
        const DayMean& mean = progress.days[static_cast<std::size_t>(day)];
        CHECK(opened(Overview::Part::days, day) == mean.cold.count + mean.warm.count);
    }
}

TEST_CASE("progress: a try stands among the others of its sitting at its place, beside the last ones there") {
    auto played = twoSittings();
    for (PlayedSitting& each : played)
        for (LoggedTry& one : each.tries) one.curve = packCurve(inventedCurve(-200.0, -7.0, false));
    Reader reader(played);
    reader.press({sittings, enter});
    const ProgressPages& pages = reader.shown();
    REQUIRE(pages.here);
    // The dropped try is no neighbour; the one that died is.
    CHECK(pages.here->traces.size() == 2);
    CHECK(pages.hereWords.find("G string · fret 7 · 2 March") == 0);
    CHECK(pages.hereWords.find("this try and 1 other there") != std::string::npos);
    REQUIRE(pages.before);
    CHECK(pages.before->traces.size() == 2);
    CHECK(pages.before->before);
    CHECK(pages.beforeWords.find("The last time there, 1 March") == 0);
    // In front is the try itself, as it is in the log.
    const Trace& itself = pages.here->traces.back();
    CHECK(itself.points.size() == 220);
    CHECK(itself.points.back().fromTarget->value == doctest::Approx(-7.0 + 1.5 * std::sin(9.0 * 2.19)).epsilon(0.02));
    CHECK(itself.marks.at(0).verdict == Verdict::deadOn);
    reader.press({down, down, down});  // the slide, somewhere else
    CHECK(pages.here->traces.size() == 1);
    CHECK_FALSE(pages.before);
    CHECK(pages.beforeWords == "It had not been played there before.");
}

TEST_CASE(
    "progress: right goes into the tries, backspace strikes one and restores it, and the sitting follows at once") {
    Reader reader(twoSittings());
    const ProgressPages& pages = reader.shown();
    reader.press({sittings, down, right});
    CHECK(pages.selectedTry == 0);
    auto wish = reader.press({backspace});
    REQUIRE(wish);
    CHECK(wish->kind == Asked::strike);
    CHECK(wish->sittingId == 1);
    CHECK(wish->oneTry.number == 1);
    CHECK(pages.tries[0].struck);
    CHECK(pages.sittings[1].result == "bends 1 of 1 inside");
    wish = reader.press({backspace});
    REQUIRE(wish);
    CHECK(wish->kind == Asked::restore);
    CHECK_FALSE(pages.tries[0].struck);
    reader.press({left});
    CHECK_FALSE(pages.selectedTry);
    CHECK_FALSE(reader.press({backspace}));  // no sitting is struck
}

TEST_CASE("progress: striking in a log on the disk is there after the next look, and one is where one was") {
    Reader reader(twoSittings());
    const auto wish = reader.press({sittings, right, backspace});
    REQUIRE(wish);
    {
        auto log = Log::open(reader.file, Log::Access::write);
        REQUIRE(log->setStruck(wish->sittingId, wish->oneTry.number, wish->oneTry.struck));
    }
    reader.read();
    CHECK(reader.shown().selectedTry == 0);
    CHECK(reader.shown().tries[0].struck);
    CHECK(readProgress(reader.file, "Noor")->sittings.empty());
    CHECK(readProgress(reader.folder / "not there.sqlite", "Ines")->sittings.empty());
    CHECK(*readStudents(reader.file) == std::vector<std::string>{"Ines"});
}

TEST_CASE("progress: a try without a kept sound shows its quantities and its curve, and says why it cannot be heard") {
    auto played = twoSittings();
    played[0].tries[1].curve = packCurve(inventedCurve(-200.0, -10.0, false));
    Reader reader(played);
    CHECK_FALSE(reader.press({sittings, down, right, enter}));
    REQUIRE(reader.shown().opened);
    OpenedTry opened = *reader.shown().opened;
    CHECK(opened.title == "Whole up · G string · fret 7 · full step");
    CHECK(opened.sentence == "said of try 1");
    CHECK_FALSE(opened.sweep);  // a log of old has no curve of it
    CHECK_FALSE(opened.canHear);
    CHECK(opened.sound.find("The sound of this try was not kept") == 0);
    std::map<std::string, std::string> quantities;
    for (const Quantity& each : opened.quantities) quantities[each.name] = each.value;
    CHECK(quantities["first stop"] == "40 ¢ under");
    CHECK(quantities["landing"] == "40 ¢ under ±0.6");
    CHECK(quantities["arrival after"] == "0.70 s");
    CHECK(quantities["aim"] == "±25 ¢");
    CHECK(quantities.count("vibrato") == 0);
    CHECK_FALSE(reader.press({enter}));  // nothing to hear
    reader.press({down});
    CHECK(reader.shown().opened->sentence == "said of try 2");
    CHECK(reader.shown().opened->sweep);
    reader.press({escape});
    CHECK_FALSE(reader.shown().opened);
    CHECK(reader.shown().selectedTry == 1);
}

TEST_CASE("progress: a kept take gives back the try's trace as it was marked, and its sound") {
    Reader reader;
    const PlayedTry played = playedTry(reader.folder / "take.flac", Target::concert, Cents(0.0));
    Sitting sitting;
    sitting.student = "Ines";
    REQUIRE(Log::open(reader.file, Log::Access::write)->put(sitting, played.logged));
    reader.read();
    auto wish = reader.press({sittings, right, enter});
    REQUIRE(wish);
    CHECK(wish->kind == Asked::read);
    CHECK(reader.shown().opened->sound == "Reading its sound ...");
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
    reader.screen.setTake(wish->sittingId, played.logged.number, take);
    REQUIRE(reader.shown().opened->sweep);
    CHECK(reader.shown().opened->canHear);
    CHECK(reader.shown().opened->sweep->traces.size() == 1);
    CHECK(reader.shown().opened->sweep->steps.at(0).start == Cents(-200.0));
    wish = reader.press({enter});
    REQUIRE(wish);
    CHECK(wish->kind == Asked::play);
    CHECK(reader.press({enter})->kind == Asked::stop);
    reader.press({enter});
    reader.screen.played();
    CHECK(reader.shown().opened->sound == "Enter plays it.");
    reader.press({enter});
    reader.screen.cannotPlay();
    CHECK(reader.shown().opened->sound.find("no sound output") != std::string::npos);
}

TEST_CASE("progress: a try marked from its start note is drawn against that target") {
    const TestFolder folder;
    const PlayedTry played = playedTry(folder / "take.flac", Target::startNote, Cents(15.0));
    const auto take = readTake(played.logged, Guitar{});
    REQUIRE(take);
    CHECK(std::abs(heldMedian(take->trace, played.logged.landing) - played.logged.landing.landingError->value) < 0.1);
}

TEST_CASE("progress: a sound file that is gone is named, and a late answer for another try changes nothing") {
    auto played = twoSittings();
    played[0].tries[0].takeFile = "/nowhere/take.flac";
    Reader reader(played);
    const auto wish = reader.press({sittings, down, right, enter});
    REQUIRE(wish);
    reader.screen.setTake(1, 2, ReadTake{});
    CHECK_FALSE(reader.shown().opened->canHear);
    reader.screen.setTake(wish->sittingId, wish->oneTry.number, readTake(wish->oneTry, wish->guitar));
    CHECK(reader.shown().opened->sound.find("/nowhere/take.flac") != std::string::npos);
    CHECK(reader.press({backspace})->kind == Asked::strike);
    CHECK(reader.shown().opened->sentence.find("(dropped)") != std::string::npos);
}

TEST_CASE("progress: a click on a try marks it, a second one opens it") {
    Reader reader(twoSittings());
    reader.press({sittings});
    reader.click(-3);
    CHECK(reader.shown().selectedTry == 2);
    reader.click(-3);
    CHECK(reader.shown().opened);
    reader.press({escape, left});
    reader.click(1);
    CHECK(reader.shown().sitting == 1);
    CHECK_FALSE(reader.shown().selectedTry);
}

TEST_CASE("progress: a note is written on a sitting and on a try, shown there, changed, and taken back") {
    Reader reader(twoSittings());
    const auto type = [&](const std::string& text) {
        for (const char letter : text) {
            Snapshot shown;
            shown.screen = Screen::progress;
            shown.progress = reader.shown();
            for (const Intent& intent : intentsForCharacter(shown, static_cast<unsigned char>(letter)))
                reader.screen.act(intent);
        }
    };
    const auto keep = [&] {
        const Wish wish = reader.screen.act({Intent::Kind::choose, Screen::progress, 0});
        REQUIRE(wish.note);
        auto log = Log::open(reader.file, Log::Access::write);
        REQUIRE(log);
        REQUIRE(keepNote(*log, wish.note->student, wish.note->note));
        reader.read();
        return wish.note->note;
    };
    reader.press({'N'});
    CHECK_FALSE(reader.shown().typing);  // of the overview there is none
    reader.press({sittings, 'N'});
    REQUIRE(reader.shown().typing);
    CHECK(reader.shown().noteOn == "sitting 2");
    type("tired");
    CHECK(keep().number == 0);
    CHECK(reader.shown().noted == "tired");
    reader.press({right, down, 'N'});
    CHECK(reader.shown().noteOn == "try 2.2");
    type("the wrist, q");  // letters are no keys meanwhile
    reader.press({backspace});
    type("not the finger");
    const KeptNote first = keep();
    CHECK(first.text == "the wrist, not the finger");
    CHECK(reader.shown().noted == first.text);
    reader.press({enter});
    REQUIRE(reader.shown().opened);
    CHECK(reader.shown().opened->notes == first.text);
    reader.press({'N'});
    CHECK(reader.shown().typing == first.text);
    type("!");
    CHECK(keep().text == first.text + "!");
    CHECK(reader.shown().opened->notes == first.text + "!");
    reader.press({'N'});
    for (int i = 0; i < 40; ++i) reader.press({backspace});
    CHECK(keep().text.empty());
    CHECK(reader.shown().opened->notes.empty());
    reader.press({'N', escape});
    CHECK_FALSE(reader.shown().typing);
    CHECK(reader.shown().opened);
}
