#include "src/app/practice_screen.h"

#include <doctest/doctest.h>

using namespace landfall;

namespace {

Drill wholeUp() {
    Drill drill;
    drill.name = "Whole up";
    drill.how = "Two fingers behind.";
    drill.meanwhile = "Bend to the pitch two frets up; hold it.";
    drill.steps = {{.gesture = Gesture::bend, .fromSemitones = 0.0, .toSemitones = 2.0}};
    drill.places = {{3, 7}};
    return drill;
}

DrillState asking(bool guided, bool byEar = false) {
    DrillState state;
    state.place = {3, 7};
    state.moves = movesAt(wholeUp(), Guitar{}, {3, 7}).value();
    state.prompt = "G string · fret 7 · full step";
    state.guided = guided;
    state.byEar = byEar;
    return state;
}

// The number of a note that begins at a full second.
int noteAt(double onset) { return static_cast<int>(onset); }

// A player's try, told event by event as the Listener does.
struct Playing {
    PracticeScreen screen;
    DrillState state;
    double now = 10.0;

    explicit Playing(const DrillState& asked, Telling telling = Telling::everyTry, const Drill& drill = wholeUp())
        : screen({.drill = drill, .guitar = {}, .telling = telling}), state(asked) {
        screen.follow(state, Seconds(now));
    }
    const Practice& shown() const { return screen.practice(); }
    void hear(const ListenerEvent& event) {
        screen.hear(event);
        screen.follow(state, Seconds(now));
    }
    void pitch(double at, std::optional<double> cents) {
        now = at;
        LivePitch live;
        live.frame.centre = live.frame.available = Seconds(at);
        if (cents) {
            live.frame.pitch = Hertz(300.0);
            live.fromTarget = Cents(*cents);
        }
        hear(live);
    }
    void stroke(double at) {
        now = at + 0.02;
        hear(PickStroke{Seconds(now), {Seconds(now), Seconds(at), Decibels(20.0)}, noteAt(at)});
    }
    Landing landing(double onset, double error, double end) const {
        Landing made;
        made.verdict = error < 0.0 ? Verdict::near : Verdict::over;
        made.sentence = error < 0.0 ? "22 under: about a fifth of a fret." : "31 over: ease off.";
        made.onset = Seconds(onset);
        made.note = made.tryNumber = noteAt(onset);
        made.end = Seconds(end);
        made.landingTime = Seconds(onset + 0.7);
        made.firstStopError = made.landingError = Cents(error);
        return made;
    }
    // Half a second of start note, then the target missed by `error`.
    void tryAt(double onset, double error) {
        stroke(onset);
        for (int i = 4; i < 200; ++i) pitch(onset + 0.01 * i, i < 50 ? -200.0 : error);
        hear(TryBegan{Seconds(now), Seconds(onset), noteAt(onset), noteAt(onset), 1, false});
        hear(ProvisionalLanding{Seconds(now), landing(onset, error, onset + 2.0)});
        hear(FinalLanding{Seconds(now), landing(onset, error, onset + 2.0)});
        hear(TryEnded{Seconds(now), landing(onset, error, onset + 2.0)});
    }
};

}  // namespace

TEST_CASE("before the first stroke the screen says what to play, where, and how") {
    Playing one(asking(true));
    CHECK(one.shown().moment == Moment::waiting);
    CHECK(one.shown().prompt == "G string · fret 7 · full step");
    CHECK(one.shown().sentence == "Bend to the pitch two frets up; hold it.");
    CHECK(one.shown().neck.place->string == 3);
    CHECK(one.shown().steps == std::vector<SweepStep>{{Cents(0.0), Cents(-200.0)}});
    CHECK(one.shown().progress == "set 1 of 1 · try 1 of 6 · guided");
}

TEST_CASE("a guided try draws its trace from the pick stroke on, while it is played") {
    Playing one(asking(true));
    one.pitch(10.95, std::nullopt);
    one.pitch(11.01, -199.0);  // heard before the stroke is known
    one.stroke(11.0);
    REQUIRE(one.shown().traces.size() == 1);
    CHECK(one.shown().traces[0].points.front().sinceStroke.value == doctest::Approx(0.01));
    one.pitch(11.05, -180.0);
    CHECK(one.shown().moment == Moment::playing);
    CHECK(one.shown().traces[0].points.back().fromTarget == Cents(-180.0));
    CHECK(one.shown().traces[0].marks.empty());
}

TEST_CASE("a try that is not guided shows nothing of its trace until it has ended") {
    Playing one(asking(false));
    one.stroke(11.0);
    for (int i = 1; i < 100; ++i) one.pitch(11.0 + 0.01 * i, -200.0);
    CHECK(one.shown().traces.empty());
    one.tryAt(20.0, -22.0);
    REQUIRE(one.shown().traces.size() == 1);
    CHECK(one.shown().traces[0].points.size() > 100);
    CHECK(one.shown().traces[0].marks.at(0).firstStop == Cents(-22.0));
    CHECK(one.shown().scatter.size() == 1);
}

TEST_CASE("at the stroke what was drawn is of before, and the new mark comes with its word") {
    Playing one(asking(false));
    one.tryAt(11.0, -22.0);
    CHECK_FALSE(one.shown().before);
    one.stroke(20.0);
    CHECK(one.shown().before);
    CHECK(one.shown().traces.size() == 1);
    CHECK(one.shown().last.empty());
    one.hear(TryBegan{Seconds(one.now), Seconds(20.0), noteAt(20.0), noteAt(20.0), 1, false});
    one.hear(ProvisionalLanding{Seconds(20.8), one.landing(20.0, 41.0, 22.0)});
    CHECK(one.shown().before);
    REQUIRE(one.shown().last.size() == 1);
    CHECK(one.shown().last[0].firstStop == Cents(41.0));
    one.hear(TryEnded{Seconds(22.0), one.landing(20.0, 41.0, 22.0)});
    CHECK_FALSE(one.shown().before);
    CHECK(one.shown().traces.size() == 2);
    // A note that was none of it leaves what was told as it was.
    one.stroke(30.0);
    one.hear(Noodling{Seconds(30.5), noteAt(30.0), {}});
    CHECK_FALSE(one.shown().before);
}

TEST_CASE("the mark keeps the big line until the next stroke, and gives way to the last five after two seconds") {
    Playing one(asking(true));
    one.tryAt(11.0, -22.0);
    CHECK(one.shown().moment == Moment::landed);
    CHECK(one.shown().landed == "22 under");
    CHECK(one.shown().sentence == "About a fifth of a fret.");
    const double ended = one.now;
    one.pitch(ended + 1.5, std::nullopt);
    CHECK(one.shown().moment == Moment::landed);
    one.pitch(ended + 2.1, std::nullopt);
    CHECK(one.shown().moment == Moment::between);
    CHECK(one.shown().lastMarks.size() == 1);
    one.stroke(ended + 3.0);
    CHECK(one.shown().moment == Moment::playing);
    CHECK(one.shown().last.empty());
    one.tryAt(ended + 4.0, 31.0);
    one.stroke(one.now + 0.2);
    CHECK(one.shown().moment == Moment::playing);
}

TEST_CASE("what belongs to no try leaves no trace behind") {
    Playing one(asking(true));
    one.stroke(11.0);
    for (int i = 1; i < 50; ++i) one.pitch(11.0 + 0.01 * i, 300.0);
    CHECK(one.shown().traces.size() == 1);
    one.hear(Noodling{Seconds(11.6), noteAt(11.0)});
    CHECK(one.shown().traces.empty());
    CHECK(one.shown().moment == Moment::waiting);
}

TEST_CASE("a note that was meant to begin a try but did not says why, until the next stroke") {
    Playing one(asking(true));
    one.stroke(11.0);
    for (int i = 1; i < 80; ++i) one.pitch(11.0 + 0.01 * i, 300.0);
    one.hear(Noodling{Seconds(11.8), noteAt(11.0), "That was fret 9. Play fret 8."});
    CHECK(one.shown().moment == Moment::landed);
    CHECK(one.shown().landed == "That was fret 9");
    CHECK(one.shown().sentence == "Play fret 8.");
    one.pitch(18.0, std::nullopt);
    CHECK(one.shown().landed == "That was fret 9");
    CHECK(one.shown().last.empty());
    one.stroke(15.0);
    CHECK(one.shown().sentence.empty());
}

TEST_CASE("a wrong start is told while the note sounds, and its end changes nothing; the next stroke takes it away") {
    Playing one(asking(false));
    one.stroke(11.0);
    for (int i = 4; i < 60; ++i) one.pitch(11.0 + 0.01 * i, 0.0);
    one.hear(WrongStart{Seconds(11.6), noteAt(11.0), "That was fret 9. Play fret 8."});
    CHECK(one.shown().moment == Moment::landed);
    CHECK(one.shown().landed == "That was fret 9");
    CHECK(one.shown().sentence == "Play fret 8.");
    const auto version = one.screen.version();
    one.now = 14.0;
    one.hear(Noodling{Seconds(14.0), noteAt(11.0), "That was fret 9. Play fret 8."});
    CHECK(one.shown().landed == "That was fret 9");
    CHECK(one.screen.version() > version);  // its line is gone
    one.stroke(15.0);
    CHECK(one.shown().moment == Moment::playing);
}

TEST_CASE("by ear nothing is shown until the player chooses to see") {
    Playing one(asking(false, true));
    one.tryAt(11.0, -22.0);
    one.tryAt(15.0, 31.0);
    CHECK(one.shown().moment == Moment::waiting);
    CHECK(one.shown().landed.empty());
    CHECK(one.shown().traces.empty());
    CHECK(one.shown().scatter.empty());
    CHECK(one.shown().sentence == "By ear: was it under, on it or over?");
    one.stroke(18.0);
    one.hear(Noodling{Seconds(18.5), noteAt(18.0)});
    CHECK(one.shown().sentence == "By ear: was it there? S shows it.");
    one.screen.see();
    CHECK(one.shown().moment == Moment::landed);
    CHECK(one.shown().landed == "31 over");
    CHECK(one.shown().traces.size() == 2);
    CHECK(one.shown().scatter.size() == 2);
}

TEST_CASE(
    "by ear a try can be guessed once it is over: the guess opens this try alone, and says whether it was right") {
    Playing one(asking(false, true));
    one.tryAt(11.0, -22.0);
    one.tryAt(15.0, 31.0);
    CHECK(one.shown().guessing);
    CHECK(one.screen.guesses());
    CHECK(one.shown().sentence == "By ear: was it under, on it or over?");
    one.screen.guessed("Right.");
    CHECK_FALSE(one.shown().guessing);
    CHECK(one.shown().moment == Moment::landed);
    CHECK(one.shown().landed == "31 over");
    CHECK(one.shown().sentence == "Right.");
    CHECK(one.shown().traces.size() == 1);  // the first is still hidden
    one.stroke(20.0);
    CHECK_FALSE(one.shown().guessing);
}

TEST_CASE("a first word has no number, and no mark while it might still fall to the other side of the aim") {
    Playing one(asking(false));
    one.stroke(11.0);
    one.hear(TryBegan{Seconds(11.1), Seconds(11.0), noteAt(11.0), noteAt(11.0), 1, false});
    one.hear(ProvisionalLanding{Seconds(11.9), one.landing(11.0, -22.0, 13.0)});
    CHECK(one.shown().landed == "just under");
    CHECK(one.shown().last.empty());
    one.hear(FinalLanding{Seconds(12.2), one.landing(11.0, -22.0, 13.0)});
    CHECK(one.shown().landed == "just under");
    CHECK(one.shown().sentence.empty());
    one.hear(TryEnded{Seconds(13.0), one.landing(11.0, -22.0, 13.0)});
    CHECK(one.shown().landed == "22 under");
    REQUIRE(one.shown().last.size() == 1);
    CHECK(one.shown().last[0].inside);
    CHECK_FALSE(one.shown().sentence.empty());
}

TEST_CASE("feedback every few tries comes with the third, feedback as a summary with the rest") {
    Playing few(asking(false), Telling::everyFew);
    few.tryAt(11.0, -22.0);
    few.tryAt(15.0, -22.0);
    CHECK(few.shown().scatter.empty());
    few.tryAt(19.0, 31.0);
    CHECK(few.shown().scatter.size() == 3);
    CHECK(few.shown().landed == "31 over");

    Playing whole(asking(false), Telling::afterSet);
    for (const double at : {11.0, 15.0, 19.0, 23.0}) whole.tryAt(at, -22.0);
    CHECK(whole.shown().scatter.empty());
    whole.state.phase = DrillPhase::resting;
    whole.state.left = Seconds(20.0);
    whole.pitch(whole.now + 0.1, std::nullopt);
    CHECK(whole.shown().scatter.size() == 4);
}

TEST_CASE("a struck try is gone from the screen") {
    Playing one(asking(true));
    one.tryAt(11.0, -22.0);
    one.tryAt(15.0, 31.0);
    one.hear(TryStruck{Seconds(one.now), noteAt(15.0)});
    CHECK(one.shown().traces.size() == 1);
    CHECK(one.shown().scatter.size() == 1);
    CHECK(one.shown().moment == Moment::waiting);
    CHECK(one.shown().sentence == "Dropped: that try does not count.");
}

TEST_CASE("a struck try takes along the lines of all its strokes, and no other") {
    Playing one(asking(true));
    one.tryAt(11.0, -22.0);
    one.tryAt(15.0, -22.0);
    one.stroke(19.0);
    for (int i = 4; i < 200; ++i) one.pitch(19.0 + 0.01 * i, 31.0);
    Landing later = one.landing(19.0, 31.0, 21.0);
    later.tryNumber = noteAt(15.0);
    one.hear(TryEnded{Seconds(one.now), later});
    REQUIRE(one.shown().traces.size() == 3);
    one.hear(TryStruck{Seconds(one.now), noteAt(15.0)});
    CHECK(one.shown().traces.size() == 1);
    CHECK(one.shown().scatter.size() == 1);
}

TEST_CASE(
    "a set's last try, struck in the rest, is gone from the screen and asked for again; struck at the end, the summary "
    "is another") {
    Playing one(asking(true));
    one.tryAt(11.0, -22.0);
    one.tryAt(15.0, 31.0);
    one.state.phase = DrillPhase::resting;
    one.state.left = Seconds(20.0);
    one.pitch(one.now + 3.0, std::nullopt);
    REQUIRE(one.shown().moment == Moment::rest);
    one.screen.hear(TryStruck{Seconds(one.now), noteAt(15.0)});
    one.state.phase = DrillPhase::asking;
    one.pitch(one.now + 0.1, std::nullopt);
    CHECK(one.shown().traces.size() == 1);
    CHECK(one.shown().scatter.size() == 1);
    CHECK(one.shown().moment == Moment::waiting);
    CHECK(one.shown().sentence == "Dropped: that try does not count.");

    one.state.phase = DrillPhase::done;
    DrillSummary summary;
    summary.words = {"Usually 22 cents off, mostly low", "0 of 1 within 20 cents."};
    one.screen.finish(summary, Seconds(one.now));
    one.pitch(one.now + 3.0, std::nullopt);
    REQUIRE(one.shown().moment == Moment::endOfDrill);
    one.screen.hear(TryStruck{Seconds(one.now), noteAt(11.0)});
    summary.words = {"Nothing played", ""};
    one.screen.finish(summary, Seconds(one.now));
    CHECK(one.shown().moment == Moment::endOfDrill);
    CHECK(one.shown().scatter.empty());
    CHECK(one.shown().summary == "Nothing played");
}

TEST_CASE("a rest begins when the last mark was read, and shortens in quarters of a second") {
    Playing one(asking(true));
    one.tryAt(11.0, -22.0);
    one.state.phase = DrillPhase::resting;
    one.state.left = Seconds(20.0);
    one.state.place = {3, 9};  // the next set's
    one.pitch(one.now + 0.5, std::nullopt);
    CHECK(one.shown().moment == Moment::landed);
    CHECK(one.shown().traces.size() == 1);
    one.state.left = Seconds(17.9);
    one.pitch(one.now + 2.0, std::nullopt);
    CHECK(one.shown().moment == Moment::rest);
    CHECK(one.shown().restLeft.value == doctest::Approx(18.0));
    CHECK(one.shown().sentence == "Hand off the neck. Next: G string · fret 7 · full step.");
    const auto version = one.screen.version();
    one.state.left = Seconds(17.8);
    one.pitch(one.now + 0.1, std::nullopt);
    CHECK(one.screen.version() == version);  // nothing to draw
    CHECK(one.shown().traces.size() == 1);
    one.state.phase = DrillPhase::asking;
    one.pitch(one.now + 0.1, std::nullopt);
    CHECK(one.shown().traces.empty());
    CHECK(one.shown().moment == Moment::waiting);
}

TEST_CASE("a warm-up is not shown as a rest, and the first try follows it") {
    DrillState state = asking(true);
    state.phase = DrillPhase::warmUp;
    state.left = Seconds(120.0);
    state.message = "Easy fretting first, then half steps.";
    Playing one(state);
    CHECK(one.shown().moment == Moment::warmUp);
    CHECK(one.shown().restLength == Seconds(120.0));
    CHECK(one.shown().sentence == "Easy fretting first, then half steps.");
    one.state = asking(true);
    one.pitch(one.now + 0.1, std::nullopt);
    CHECK(one.shown().moment == Moment::waiting);
}

TEST_CASE("a rest that must be taken says so when the key to skip it is pressed") {
    Playing one(asking(true));
    one.state.phase = DrillPhase::resting;
    one.state.left = Seconds(60.0);
    one.pitch(one.now + 0.1, std::nullopt);
    CHECK(one.shown().sentence.empty());
    one.state.message = "This minute off is for your hand, so it cannot be skipped.";
    one.pitch(one.now + 0.1, std::nullopt);
    CHECK(one.shown().sentence == "This minute off is for your hand, so it cannot be skipped.");
}

TEST_CASE("what the key for next does is said as the drill will do it") {
    DrillState state = asking(true);
    state.sets = 2;
    Playing one(state);
    CHECK(one.shown().nextDoes == "next set");
    const auto then = [&](DrillPhase phase) {
        one.state.phase = phase;
        one.pitch(one.now + 0.1, std::nullopt);
        return one.shown().nextDoes;
    };
    CHECK(then(DrillPhase::warmUp) == "start now");
    CHECK(then(DrillPhase::resting) == "skip the rest");
    one.state.restStays = true;
    CHECK(then(DrillPhase::resting).empty());
    CHECK(then(DrillPhase::stringSlipped) == "go on as it is");
    one.state.set = 2;
    CHECK(then(DrillPhase::asking) == "end the drill");
    CHECK(then(DrillPhase::done) == "next drill");
}

TEST_CASE("going on in the middle of a try leaves its word for two seconds, not for good") {
    Playing player(asking(true));
    player.stroke(20.0);
    player.hear(TryBegan{Seconds(20.1), Seconds(20.0), noteAt(20.0), noteAt(20.0), 1, false});
    player.now = 21.0;
    player.hear(ProvisionalLanding{Seconds(21.0), player.landing(20.0, -22.0, 22.0)});
    CHECK(player.shown().moment == Moment::landed);
    player.state.phase = DrillPhase::resting;
    player.state.left = Seconds(20.0);
    player.now = 21.5;
    player.screen.follow(player.state, Seconds(player.now));
    CHECK(player.shown().moment == Moment::landed);
    player.now = 24.0;
    player.screen.follow(player.state, Seconds(player.now));
    CHECK(player.shown().moment == Moment::rest);
}

TEST_CASE("the end of a drill says the typical miss and one next step") {
    Playing one(asking(false));
    one.tryAt(11.0, -22.0);
    one.state.phase = DrillPhase::done;
    DrillSummary summary;
    summary.words = {"Usually 14 cents off, mostly low", "9 of 15 within 25 cents; 2 died."};
    summary.nextStep = "You usually stop short by 14 cents: push a little further.";
    one.screen.finish(summary, Seconds(one.now));
    one.pitch(one.now + 0.1, std::nullopt);
    CHECK(one.shown().moment == Moment::landed);
    one.pitch(one.now + 2.1, std::nullopt);
    CHECK(one.shown().moment == Moment::endOfDrill);
    CHECK(one.shown().progress.empty());
    one.pitch(one.now + 0.1, std::nullopt);
    CHECK(one.shown().progress.empty());
    CHECK(one.shown().summary == "Usually 14 cents off, mostly low");
    CHECK(one.shown().sentence
          == "9 of 15 within 25 cents; 2 died. You usually stop short by 14 cents: push a little further.");
}

TEST_CASE(
    "at most twelve traces stay, each within what 16-bit vertices can draw, and another place begins without them") {
    Playing one(asking(true));
    for (int i = 0; i < 20; ++i) one.tryAt(11.0 + 4.0 * i, -22.0);
    CHECK(one.shown().traces.size() == 12);
    for (const Trace& trace : one.shown().traces) CHECK(trace.points.size() < 1000);
    one.state.place = {3, 9};
    one.pitch(one.now + 0.1, std::nullopt);
    CHECK(one.shown().traces.empty());
    CHECK(one.shown().scatter.empty());
    CHECK(one.shown().moment == Moment::waiting);
}

namespace {

Drill upAndHome(Subject subject = Subject::landing) {
    Drill drill = wholeUp();
    drill.subject = subject;
    drill.name = "Up and home";
    drill.steps.push_back({.gesture = Gesture::release, .fromSemitones = 2.0, .toSemitones = 0.0});
    return drill;
}

// One try of a full-step bend and its release under one stroke, told as the Listener does; cents are against the bend's
// target, as the pitch is.
struct TwoSteps : Playing {
    explicit TwoSteps(bool guided, bool byEar = false, Subject subject = Subject::landing)
        : Playing(asking(guided, byEar), Telling::everyTry, upAndHome(subject)) {
        state.moves = movesAt(upAndHome(), Guitar{}, {3, 7}).value();
        screen.follow(state, Seconds(now));
    }
    Landing step(double onset, int number, std::optional<double> error, double arrival) const {
        Landing made = landing(onset, error.value_or(0.0), onset + 3.0);
        made.moveNumber = number;
        made.move = state.moves[static_cast<std::size_t>(number - 1)];
        made.landingTime = Seconds(onset + arrival);
        if (number == 2) made.verdict = Verdict::deadOn, made.sentence = "Dead on, and it stayed.";
        if (!error) {
            made.verdict = Verdict::died;
            made.sentence = "Died before arriving.";
            made.landingTime.reset();
            made.firstStopError = made.landingError = std::nullopt;
        }
        return made;
    }
    void bendAndHold(double onset, double error) {
        stroke(onset);
        for (int i = 4; i < 150; ++i) pitch(onset + 0.01 * i, i < 50 ? -200.0 : error);
        hear(TryBegan{Seconds(now), Seconds(onset), noteAt(onset), noteAt(onset), 1, false});
        hear(ProvisionalLanding{Seconds(now), step(onset, 1, error, 0.7)});
        hear(FinalLanding{Seconds(now), step(onset, 1, error, 0.7)});
    }
    void letHome(double onset, double error) {
        for (int i = 150; i < 300; ++i) pitch(onset + 0.01 * i, -200.0 + error);
        hear(ProvisionalLanding{Seconds(now), step(onset, 2, error, 2.0)});
    }
    void noteEnds(double onset, double bendError, std::optional<double> homeError) {
        hear(TryEnded{Seconds(now), step(onset, 1, bendError, 0.7)});
        hear(TryEnded{Seconds(now), step(onset, 2, homeError, 2.0)});
    }
};

}  // namespace

TEST_CASE("a bend and its release under one stroke: each step has its target, its mark, its word and its sentence") {
    TwoSteps one(true);
    CHECK(one.shown().steps == std::vector<SweepStep>{{Cents(0.0), Cents(-200.0)}, {Cents(-200.0), std::nullopt}});
    CHECK(one.shown().sweepLength == Seconds(5.0));  // room for both
    CHECK(one.shown().step == 0);

    one.bendAndHold(11.0, -22.0);
    CHECK(one.shown().moment == Moment::landed);
    CHECK(one.shown().landed == "just under");
    CHECK(one.shown().sentence.empty());
    CHECK(one.shown().step == 1);  // the release is asked now
    one.letHome(11.0, 3.0);
    CHECK(one.shown().landed == "just under, then good");
    CHECK(one.shown().sentence.empty());  // neither is final yet
    CHECK(one.shown().last.size() == 1);  // the bend's mark may still move to the other side of the aim
    one.noteEnds(11.0, -22.0, 3.0);
    CHECK(one.shown().landed == "22 under, then dead on");
    CHECK(one.shown().sentence == "22 under: about a fifth of a fret. Then the release: dead on, and it stayed.");
    CHECK(one.shown().last.size() == 2);
    CHECK(one.shown().step == 0);

    REQUIRE(one.shown().traces.size() == 1);
    const Trace& trace = one.shown().traces[0];
    REQUIRE(trace.marks.size() == 2);
    CHECK(trace.marks[0].step == 0);
    CHECK(trace.marks[1].step == 1);
    CHECK(trace.marks[1].firstStop == Cents(3.0));
    CHECK(trace.marks[1].arrival->value == doctest::Approx(2.0));
    // The way home is drawn too.
    CHECK(trace.points.back().sinceStroke.value > 2.9);
    CHECK(trace.points.back().fromTarget == Cents(-197.0));
    CHECK(one.shown().scatter.size() == 2);
    CHECK(one.shown().lastMarks.size() == 2);
}

TEST_CASE("of a drill about the release the big line is the release's, and no number in it changes on the way there") {
    TwoSteps one(true, false, Subject::release);
    one.bendAndHold(11.0, -22.0);
    CHECK(one.shown().landed == "just under");
    one.hear(TryEnded{Seconds(one.now), one.step(11.0, 1, -22.0, 0.7)});  // held for longer than it is marked
    CHECK(one.shown().landed == "just under");
    CHECK(one.shown().sentence == "22 under: about a fifth of a fret.");
    one.letHome(11.0, 3.0);
    CHECK(one.shown().landed == "good");
    CHECK(one.shown().sentence == "22 under: about a fifth of a fret.");
    one.hear(TryEnded{Seconds(one.now), one.step(11.0, 2, 3.0, 2.0)});
    CHECK(one.shown().landed == "dead on");
    CHECK(one.shown().sentence == "Dead on, and it stayed. The bend before it: 22 under.");
    REQUIRE(one.shown().last.size() == 1);  // beside the words: its own mark
    CHECK(one.shown().last.front().step == 1);

    TwoSteps lost(true, false, Subject::release);
    lost.bendAndHold(11.0, -22.0);
    lost.noteEnds(11.0, -22.0, std::nullopt);
    CHECK(lost.shown().landed == "died");
}

TEST_CASE("a bend held for longer than it is marked keeps its line, and the release joins it") {
    TwoSteps one(false);
    one.bendAndHold(11.0, -22.0);
    one.hear(TryEnded{Seconds(one.now), one.step(11.0, 1, -22.0, 0.7)});
    REQUIRE(one.shown().traces.size() == 1);
    CHECK(one.shown().traces[0].marks.size() == 1);
    one.letHome(11.0, 3.0);
    one.hear(TryEnded{Seconds(one.now), one.step(11.0, 2, 3.0, 2.0)});
    REQUIRE(one.shown().traces.size() == 1);
    CHECK(one.shown().traces[0].marks.size() == 2);
    CHECK(one.shown().traces[0].points.back().sinceStroke.value > 2.9);
    CHECK(one.shown().landed == "22 under, then dead on");
    const double ended = one.now;
    one.pitch(ended + 1.5, std::nullopt);
    CHECK(one.shown().moment == Moment::landed);  // two seconds from the last step's end
    one.pitch(ended + 2.1, std::nullopt);
    CHECK(one.shown().moment == Moment::between);
}

TEST_CASE("a release that dies keeps the bend's mark and says both; the next try begins with the bend") {
    TwoSteps one(true);
    one.bendAndHold(11.0, -22.0);
    one.noteEnds(11.0, -22.0, std::nullopt);
    CHECK(one.shown().landed == "22 under, then died");
    CHECK(one.shown().sentence == "22 under: about a fifth of a fret. Then the release: died before arriving.");
    CHECK(one.shown().step == 0);
    one.stroke(20.0);
    CHECK(one.shown().last.empty());
    CHECK(one.shown().step == 0);
    one.hear(TryEnded{Seconds(21.0), one.step(20.0, 1, 31.0, 0.7)});
    CHECK(one.shown().landed == "31 over");  // without the try before
}

TEST_CASE("by ear a chain tells nothing of its steps until it is asked for, and then both") {
    TwoSteps one(false, true);
    one.bendAndHold(11.0, -22.0);
    CHECK(one.shown().step == 0);
    CHECK(one.shown().landed.empty());
    one.letHome(11.0, 3.0);
    one.noteEnds(11.0, -22.0, 3.0);
    CHECK(one.shown().landed.empty());
    CHECK(one.shown().traces.empty());
    one.screen.see();
    CHECK(one.shown().landed == "22 under, then dead on");
    CHECK(one.shown().traces.at(0).marks.size() == 2);
}

TEST_CASE(
    "a step with a stroke and a fret of its own: neck and band follow it, and its trace stands at its own target") {
    Drill drill = wholeUp();
    drill.steps = {{.gesture = Gesture::bend, .fromSemitones = 0.0, .toSemitones = 1.0},
                   {.gesture = Gesture::bend, .fromSemitones = 0.0, .toSemitones = 2.0, .fretOffset = 2}};
    Playing one(asking(true));
    one.state.moves = movesAt(drill, Guitar{}, {3, 7}).value();
    one.screen.follow(one.state, Seconds(one.now));
    CHECK(one.shown().steps == std::vector<SweepStep>{{Cents(0.0), Cents(-100.0)}, {Cents(300.0), Cents(100.0)}});
    CHECK(one.shown().sweepLength == Seconds(3.0));
    one.tryAt(11.0, -22.0);
    CHECK(one.shown().step == 1);
    CHECK(one.shown().neck.place->fret == 9);
    one.stroke(15.0);
    LivePitch live;
    live.frame.centre = live.frame.available = Seconds(15.1);
    live.frame.pitch = Hertz(300.0);
    live.fromTarget = Cents(-200.0);
    live.moveNumber = 2;
    one.hear(live);
    CHECK(one.shown().traces.back().points.back().fromTarget == Cents(100.0));
    Landing second = one.landing(15.0, 31.0, 17.0);
    second.moveNumber = 2;
    second.move = one.state.moves[1];
    one.hear(TryEnded{Seconds(17.0), second});
    CHECK(one.shown().landed == "22 under, then 31 over");
    CHECK(one.shown().step == 0);
    CHECK(one.shown().neck.place->fret == 7);
}
