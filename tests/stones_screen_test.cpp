// What the window shows of a line, and its desk: without a thread or a device, time is the sound handed in.
#include <doctest/doctest.h>

#include <array>
#include <cstdlib>
#include <functional>
#include <memory>

#include "src/app/line_desk.h"
#include "src/store/log.h"
#include "src/system/machine.h"
#include "tests/support/command.h"
#include "tests/support/played_line.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

// The short line with its places, and a second bar of other moves.
Line placedLine() {
    Line line = shortLine();
    for (LineMove& move : line.moves)
        move.move.place = NeckPlace{2, static_cast<int>(move.move.frettedNote().value) - 59};
    return line;
}

LineTrace traceOf(double from, double to) {
    LineTrace trace;
    for (int i = 0; i < 10; ++i) trace.push_back({Seconds(10.0 + 0.1 * i), Cents(i < 3 ? from : to)});
    return trace;
}

LineMark landed(std::size_t move, double cents) {
    return {.move = move,
            .outcome = Outcome::landed,
            .onset = Seconds(10.05),
            .landingTime = Seconds(10.3),
            .landingError = Cents(cents),
            .firstStopError = Cents(cents),
            .sd = Cents(0.5),
            .timing = Seconds(0.2),
            .verdict = Verdict::inTune};
}

PassOver passOf(const Line& line, double bend) {
    PassOver over{.pass = 1, .marks = {}, .traces = std::vector<LineTrace>(line.moves.size())};
    for (std::size_t i = 0; i < line.moves.size(); ++i) {
        over.marks.moves.push_back(landed(i, i == 0 ? bend : 0.0));
        over.marks.moves.back().timing = Seconds(0.0);
        over.traces[i] = traceOf(-200.0, bend);
    }
    return over;
}

struct ShownLine {
    Line line = placedLine();
    StonesScreen screen{line.title, Guitar{}, Cents(25.0)};
    ShownLine() {
        screen.ask(line, line.moves.size());
        screen.follow({}, false);
    }
    const Stones& shown() const { return screen.stones(); }
    void hear(const LineEvent& event) { screen.hear(event, {}); }
    void end(const PassOver& over) {
        screen.hear(over, wordsOf(line, over.marks, Cents(25.0)));
        screen.follow({}, !wordsOf(line, over.marks, Cents(25.0)).moves.empty());
    }
};

}  // namespace

TEST_CASE("a stone of several strings has a trace of each, by name") {
    ShownLine line;
    line.line.moves[0].move.with = {line.line.moves[0].move};
    line.line.moves[0].move.with[0].place = NeckPlace{3, 9};
    line.screen.ask(line.line, line.line.moves.size());
    PassOver over = passOf(line.line, -31.0);
    for (LinePoint& point : over.traces[0]) point.strings = {std::nullopt, point.fromTarget};
    line.end(over);
    const Trace& shown = line.shown().stones[0].trace;
    CHECK(shown.points.empty());
    REQUIRE(shown.strings.size() == 2);
    CHECK(shown.strings[0].name == "G");
    CHECK(shown.strings[1].name == "B");
    REQUIRE(shown.strings[1].points.size() == 9);  // from the stroke on
    CHECK(shown.strings[1].points.back().fromTarget == Cents(-31.0));
    CHECK_FALSE(shown.strings[0].points.back().fromTarget);
    CHECK(line.shown().stones[1].trace.strings.empty());
    CHECK(line.shown().stones[1].trace.points.size() == 9);
}

TEST_CASE("before the first pass each move is a stone, the first is to be played, and the big line names it") {
    ShownLine line;
    const Stones& shown = line.shown();
    REQUIRE(shown.stones.size() == 8);
    CHECK(shown.line == "Up the back stairs");
    CHECK(shown.next == 0u);
    CHECK(shown.big == "Bar 1, beat 1: full step, B string, fret 8");
    CHECK(shown.stones[0].step.start == Cents(-200.0));
    CHECK(shown.stones[1].step.start == Cents(200.0));
    CHECK(shown.stones[1].goesOn);
    CHECK(shown.stones[1].name == "release");
    CHECK(shown.stones[2].name == "E4");
    CHECK(shown.nextDoes.empty());
    CHECK(shown.againDoes == "from the start");
}

TEST_CASE("while it is played the next move is named, and each that was left has its trace, mark and number") {
    ShownLine line;
    line.hear(MoveReached{0});
    CHECK(line.shown().moment == Moment::playing);
    CHECK(line.shown().big == "Bar 1, beat 2: release, B string, fret 8");
    line.hear(MoveReached{1});
    line.hear(MoveTold{landed(0, -31.0), traceOf(-200.0, -31.0)});
    const Stone& stone = line.shown().stones[0];
    CHECK(stone.number == "−31");
    CHECK(stone.failed);
    CHECK(line.shown().sentence == "Bar 1, beat 1: the full step stopped 31 under");
    REQUIRE(stone.trace.marks.size() == 1);
    CHECK(stone.trace.marks[0].firstStop == Cents(-31.0));
    // The first point is before the stroke.
    CHECK(stone.trace.points.size() == 9);
    CHECK(std::abs(stone.trace.points[0].sinceStroke.value - 0.05) < 1e-9);
    line.hear(MoveTold{landed(1, 3.0), {}});
    CHECK(line.shown().stones[1].number == "+3");
    CHECK_FALSE(line.shown().stones[1].failed);  // late by 0.2 s, but the pulse is not known yet
    line.hear(MoveTold{landed(2, 14.0), {}});
    CHECK(line.shown().stones[2].number.empty());  // a fret's cents are the guitar's
    CHECK(line.shown().stones[2].trace.marks[0].inside);
    CHECK(line.shown().stones[1].trace.marks[0].inside);
    CHECK_FALSE(stone.trace.marks[0].inside);
    line.hear(MoveTold{{.move = 3}, {}});
    CHECK(line.shown().stones[3].failed);
    CHECK_FALSE(line.shown().stones[3].trace.marks[0].firstStop);
    line.hear(MoveReached{7});
    CHECK_FALSE(line.shown().next);
}

TEST_CASE("after a pass the one thing to mend is said and stands out; the next stroke of the line takes it away") {
    ShownLine line;
    line.hear(MoveReached{0});
    line.end(passOf(line.line, -31.0));
    CHECK(line.shown().moment == Moment::landed);
    CHECK(line.shown().big == "Bar 1, beat 1: the full step stopped 31 under");
    CHECK(line.shown().sentence == "8 of 8 landed.");
    CHECK(line.shown().mend == 0u);
    CHECK(line.shown().next == 0u);
    CHECK(line.shown().nextDoes == "only what failed");
    CHECK(line.shown().progress == "pass 1");
    line.hear(MoveReached{0});
    CHECK_FALSE(line.shown().mend);
    CHECK(line.shown().stones[0].before);
    line.end(passOf(line.line, 0.0));
    CHECK(line.shown().big == "All of it, every bend within 25 cents");
    CHECK(line.shown().nextDoes.empty());
}

TEST_CASE("what breaks first as passes get faster is said after a pass, and is the last word of the sitting") {
    ShownLine shown;
    const std::string faster = "Faster, bar 1, beat 1 breaks first: the full step, from 92 on.";
    shown.screen.hear(passOf(shown.line, -31.0), wordsOf(shown.line, passOf(shown.line, -31.0).marks, Cents(25.0)),
                      faster);
    CHECK(shown.screen.stones().sentence.ends_with(faster));
    shown.screen.follow({LinePhase::done, {}, "Enough for one sitting."}, true);
    CHECK(shown.screen.stones().big == faster);
    CHECK(shown.screen.stones().sentence == "Enough for one sitting.");
}

TEST_CASE("a part says how much of the line it is, and enter goes back to the whole once nothing fails") {
    ShownLine line;
    const auto part = partOf(line.line, std::array<std::size_t, 1>{5});
    line.screen.ask(part.line, 8);
    line.screen.follow({}, false);
    CHECK(line.shown().progress == "1 of 8 moves");
    CHECK(line.shown().big == "Bar 2, beat 2: half step, B string, fret 8");
    CHECK(line.shown().nextDoes == "the whole line");
    CHECK(line.shown().againDoes == "the whole line");
}

TEST_CASE("a warm-up and a minute off have the big line, and an end says why") {
    ShownLine line;
    line.screen.follow({LinePhase::warmUp, Seconds(120.0), "Easy fretting first, then half steps."}, false);
    CHECK(line.shown().moment == Moment::warmUp);
    CHECK(line.shown().restLength == Seconds(120.0));
    CHECK(line.shown().nextDoes == "start now");
    line.screen.follow({}, false);
    CHECK(line.shown().moment == Moment::waiting);
    line.end(passOf(line.line, 0.0));
    line.screen.follow({LinePhase::resting, Seconds(60.0), ""}, false);
    CHECK(line.shown().moment == Moment::rest);
    CHECK(line.shown().nextDoes.empty());
    line.screen.follow({LinePhase::done, Seconds(0.0), "18 minutes are enough for one sitting"}, false);
    CHECK(line.shown().moment == Moment::endOfDrill);
    CHECK(line.shown().sentence == "18 minutes are enough for one sitting");
    CHECK(line.shown().againDoes.empty());
}

namespace {

// Plays the line that is asked, as a student without error; or silence, or noise at full scale.
struct Player : SoundSource, AskedPlayer {
    enum class Gives { line, silence, clipping } gives = Gives::line;
    SimulatedPlayer student{{.seed = 4, .skill = exactPlayer()}};
    std::vector<double> off;  // cents; of the first bends played
    std::vector<std::size_t> askedMoves;

    double sampleRate() const override { return 48000.0; }
    Heard read(std::span<float> block) override {
        student.read(block);
        if (gives == Gives::silence) std::fill(block.begin(), block.end(), 0.0f);
        if (gives == Gives::clipping) std::fill(block.begin(), block.end(), 1.0f);
        return {block.size(), 0, false};
    }
    AskedPlayer* player() override { return this; }
    void asked(const DrillState&) override {}
    void askedString(int) override {}
    void askedLine(const Line& line, double tempo) override {
        if (student.queued().value > 0.005) return;
        askedMoves.push_back(line.moves.size());
        Line played = line;
        if (!off.empty() && kindOf(played.moves[0].move.gesture).bends) {
            played.moves[0].move.to = MidiPitch(played.moves[0].move.to.value + 0.01 * off.front());
            off.erase(off.begin());
        }
        student.rest(Seconds(1.0));
        student.play(played, tempo);
        student.rest(Seconds(2.5));
    }
};

struct Desk {
    TestFolder folder;
    Settings settings;
    Player* source = nullptr;
    SittingKeeper sittings{settings, {}};
    InputDesk input{settings, SourceWish{.input = "device"}, [this](const SourceWish&) {
                        auto made = std::make_unique<Player>();
                        source = made.get();
                        return Result<std::unique_ptr<SoundSource>>(std::move(made));
                    }};
    std::unique_ptr<LineDesk> desk;

    Desk() {
        ::setenv("XDG_CONFIG_HOME", (folder / "config").c_str(), 1);
        ::setenv("XDG_DATA_HOME", (folder / "data").c_str(), 1);
        settings.cautionsSeen = "2027-03-01";
        settings.student = "Tobi";
        REQUIRE(sittings.begin(input.inUse()));
        REQUIRE(input.open());
        desk = std::make_unique<LineDesk>(settings, input, sittings);
        desk->ask(placedLine());
    }
    Stones shown() const { return *desk->stones(); }
    bool runUntil(const std::function<bool(const Stones&)>& condition, double atMost = 60.0, bool open = true) {
        for (double heard = 0.0; heard < atMost; heard += 512.0 / 48000.0) {
            std::array<float, 512> block{};
            const auto given = input.read(block);
            desk->hear(std::span(block).first(given.samples), given.missing, open);
            desk->lead();
            if (condition(shown())) return true;
        }
        return false;
    }
    // Past the warm-up to the first pass's words.
    void firstPass() {
        REQUIRE(runUntil([](const Stones& now) { return now.moment == Moment::warmUp; }));
        desk->act(Intent::Kind::next);
        REQUIRE(runUntil([](const Stones& now) { return now.moment == Moment::landed; }));
    }
    std::vector<LoggedTry> tries() {
        sittings.log().drain();
        auto log = Log::open(sittings.log().state().log, Log::Access::read);
        REQUIRE(log);
        const auto all = log->sittings();
        REQUIRE(all);
        const auto read = log->tries(all->back().id);
        REQUIRE(read);
        return *read;
    }
};

}  // namespace

TEST_CASE("a pass that is left in the middle, by a key or for something else, has its tries in the log all the same") {
    const auto inTheMiddle = [](const Stones& now) { return now.moment == Moment::playing && now.next == 6u; };
    Desk line;
    line.firstPass();
    const std::size_t whole = line.tries().size();
    REQUIRE(whole > 0);
    REQUIRE(line.runUntil(inTheMiddle));
    line.desk->act(Intent::Kind::again);
    const std::size_t more = line.tries().size();
    CHECK(more > whole);
    CHECK(more < 2 * whole);  // the moves that were not reached are none
    REQUIRE(line.runUntil(inTheMiddle));
    line.desk->leave();
    CHECK(line.tries().size() > more);
}

TEST_CASE(
    "what failed is looped by enter until it lands, then the whole line again; each bend is in the log by its number") {
    Desk line;
    line.source->off = {-40.0, -40.0};
    line.firstPass();
    CHECK(line.shown().big == "Bar 1, beat 1: the full step stopped 40 under");
    line.desk->act(Intent::Kind::next);
    REQUIRE(line.shown().stones.size() == 2);  // the bend, and its release under the same stroke
    CHECK(line.shown().progress == "2 of 8 moves");
    REQUIRE(line.runUntil([](const Stones& now) { return now.moment == Moment::landed; }));
    CHECK(line.shown().mend == 0u);
    REQUIRE(line.runUntil([](const Stones& now) { return now.moment == Moment::landed && !now.mend; }));
    CHECK(line.shown().big == "All of it, every bend within 25 cents");
    line.desk->act(Intent::Kind::next);
    CHECK(line.shown().stones.size() == 8);
    line.desk->leave();
    const auto tries = line.tries();
    REQUIRE(tries.size() == 7);  // three of the whole, two of each part
    const int numbers[] = {1, 2, 6, 1, 2, 1, 2};
    for (std::size_t i = 0; i < tries.size(); ++i) {
        CHECK(tries[i].landing.moveNumber == numbers[i]);
        CHECK(tries[i].drill == "Up the back stairs");
    }
    // Care counts the full steps: one in each of the three passes.
    CHECK(line.sittings.load.demanding == 3);
}

TEST_CASE("a pass that is discarded is struck in the log") {
    Desk line;
    line.firstPass();
    line.desk->act(Intent::Kind::discard);
    CHECK(line.shown().sentence == "Dropped: that pass does not count.");
    line.desk->leave();
    for (const LoggedTry& each : line.tries()) CHECK(each.struck);
}

TEST_CASE("in a line no signal and clipping are said as in a drill") {
    for (const auto& [gives, trouble] : {std::pair(Player::Gives::silence, Trouble::noSignal),
                                         std::pair(Player::Gives::clipping, Trouble::clipping)}) {
        Desk line;
        line.firstPass();
        CHECK(line.input.notices().empty());
        line.source->gives = gives;
        line.runUntil([](const Stones&) { return false; }, 5.0);
        REQUIRE(line.input.notices().size() == 1);
        CHECK(line.input.notices()[0].trouble == trouble);
    }
}

TEST_CASE("another screen ends the pass in progress, and the line waits there") {
    Desk line;
    line.firstPass();
    REQUIRE(line.runUntil([](const Stones& now) { return now.moment == Moment::playing && now.next == 6u; }));
    CHECK(line.runUntil([](const Stones& now) { return now.moment == Moment::landed; }, 0.1, false));
    CHECK(line.shown().progress == "pass 2");
    const auto version = line.desk->version();
    line.runUntil([](const Stones&) { return false; }, 20.0, false);
    CHECK(line.desk->version() == version);
    CHECK(line.runUntil([](const Stones& now) { return now.moment == Moment::playing; }));
}
