#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "src/practice/drill_runner.h"
#include "src/practice/drill_summary.h"

using namespace landfall;

namespace {

Drill bending(double semitones, std::vector<NeckPlace> places, double rest = 20.0) {
    Drill drill;
    drill.name = "Bend";
    drill.steps = {{Gesture::bend, 0, semitones}};
    drill.places = std::move(places);
    drill.rest = Seconds(rest);
    return drill;
}

// A player with a clock: plays what is asked and lets time pass.
struct Player {
    DrillRunnerConfig config;
    DrillRunner runner;
    double time = 0.0;
    std::vector<DrillMark> marks;

    explicit Player(DrillRunnerConfig given)
        : config(std::move(given)), runner(DrillRunner::make(config, Seconds(0.0)).value()) {}
    DrillSummary summary() const { return summarise(marks, config.drill, config.aim); }

    void wait(double seconds) {
        for (double passed = 0.0; passed < seconds - 1e-9; passed += 0.5) {
            time += 0.5;
            runner.tick(Seconds(time));
        }
    }

    Landing landing(double firstStop, int step = 1) const {
        Landing landing;
        landing.moveNumber = step;
        landing.move = runner.state().moves[static_cast<std::size_t>(step - 1) % runner.state().moves.size()];
        landing.verdict = std::abs(firstStop) <= 10.0 ? Verdict::inTune
                          : firstStop < 0.0           ? Verdict::under
                                                      : Verdict::over;
        landing.landingError = landing.firstStopError = Cents(firstStop);
        landing.startError = Cents(0.0);
        return landing;
    }

    void give(const Landing& each) {
        wait(3.0);
        marks.push_back({each, state().guided});
        runner.landed(each, Seconds(time));
    }
    void play(double firstStop, int step = 1) { give(landing(firstStop, step)); }
    void die(int step = 1) {
        Landing died = landing(0.0, step);
        died.verdict = Verdict::died;
        died.landingError.reset();
        died.firstStopError.reset();
        give(died);
    }
    const DrillState& state() const { return runner.state(); }
};

}  // namespace

TEST_CASE("a drill asks for six tries at a place, rests, and goes on to the next place") {
    Player player({.drill = bending(1, {{2, 8}, {3, 9}}), .guitar = {}});
    CHECK(player.state().phase == DrillPhase::asking);
    CHECK(player.state().prompt == "B string · fret 8 · half step");
    CHECK(player.state().sets == 2);
    for (int i = 1; i <= 6; ++i) {
        CHECK(player.state().attempt == i);
        player.play(4.0);
    }
    CHECK(player.state().phase == DrillPhase::resting);
    CHECK(player.state().left.value == 20.0);
    CHECK(player.state().prompt == "G string · fret 9 · half step");  // so that the hand can find it during the rest
    player.wait(19.5);
    CHECK(player.state().phase == DrillPhase::resting);
    CHECK(player.state().left.value == doctest::Approx(0.5));
    player.wait(1.0);
    CHECK(player.state().phase == DrillPhase::asking);
    CHECK(player.state().set == 2);
    for (int i = 0; i < 6; ++i) player.play(4.0);
    CHECK(player.state().phase == DrillPhase::done);
    CHECK(player.runner.tries() == 12);
}

TEST_CASE("landings are played only when asked: nothing counts during a rest") {
    Player player({.drill = bending(1, {{2, 8}, {2, 9}}), .guitar = {}});
    for (int i = 0; i < 6; ++i) player.play(0.0);
    player.play(0.0);
    CHECK(player.state().phase == DrillPhase::resting);
    CHECK(player.runner.tries() == 6);
}

TEST_CASE("the first three tries are guided, the last set is heard before it is seen") {
    Player player({.drill = bending(1, {{2, 8}, {2, 9}}), .guitar = {}});
    for (int i = 0; i < 6; ++i) {
        CHECK(player.state().guided == (i < 3));
        CHECK_FALSE(player.state().byEar);
        player.play(0.0);
    }
    player.wait(21.0);
    CHECK(player.state().byEar);
    CHECK_FALSE(player.state().guided);
    player.runner.see();
    CHECK_FALSE(player.state().byEar);
    player.play(0.0);
    CHECK(player.state().byEar);  // the next try is hidden again
}

TEST_CASE("the prompt names every step of a try") {
    Drill drill = bending(2, {{3, 7}}, 60.0);
    drill.steps.push_back({Gesture::release, 2, 0});
    CHECK(Player({.drill = drill, .guitar = {}}).state().prompt == "G string · fret 7 · full step, release");
    drill.steps = {{Gesture::slide, 0, 12}};
    CHECK(Player({.drill = drill, .guitar = {}}).state().prompt == "G string · fret 7 · slide to fret 19");
    drill.steps = {{Gesture::bend, 0, 1}, {Gesture::bend, 0, 2, 2}};
    CHECK(Player({.drill = drill, .guitar = {}}).state().prompt == "G string · fret 7 · half step, fret 9 full step");
    drill.steps = {{Gesture::preBend, 0, 2}};
    CHECK(Player({.drill = drill, .guitar = {}}).state().prompt == "G string · fret 7 · pre-bend full step");
}

TEST_CASE("a try of two steps is one try, and dying on the first step ends it") {
    Drill drill = bending(1, {{3, 7}});
    drill.steps.push_back({Gesture::release, 1, 0});
    Player player({.drill = drill, .guitar = {}});
    player.play(5.0, 1);
    CHECK(player.state().attempt == 1);
    player.play(5.0, 2);
    CHECK(player.state().attempt == 2);
    player.die(1);
    CHECK(player.state().attempt == 3);
    player.play(5.0, 2);  // belongs to the try that is over
    CHECK(player.state().attempt == 3);
    player.play(5.0, 3);  // numbered through: the first step again
    player.play(5.0, 5);  // begun anew before its release: the one before is over
    CHECK(player.state().attempt == 4);
    player.wait(15.0);  // the release never came
    CHECK(player.state().attempt == 5);
    CHECK(player.runner.tries() == 4);
    const DrillSummary summary = player.summary();
    REQUIRE(summary.gestures.size() == 2);
    CHECK(summary.gestures[0].counted == 4);  // one try without the trace says nothing yet, so those with it count too
    CHECK(summary.gestures[0].lost == 1);
    CHECK(summary.gestures[1].counted == 2);  // a release that was not played is none that was lost
    CHECK(summary.words.headline == "Usually off by: bends 5, releases 5 cents");
    CHECK(summary.words.rest == "Bends: mostly high, 3 of 4 within 25 cents; 1 died; all guided. Releases: mostly high, 2 of 2 within 25 cents; all guided.");
}

TEST_CASE("two strings ringing or nothing measurable is not counted, but the hand has played it") {
    Player player({.drill = bending(1, {{2, 8}}), .guitar = {}});
    Landing both = player.landing(0.0);
    both.verdict = Verdict::twoStrings;
    player.give(both);
    CHECK(player.state().attempt == 1);
    CHECK(player.runner.tries() == 0);
    Drill full = bending(2, {{2, 8}}, 60.0);
    Player hard({.drill = full, .guitar = {}, .load = {.played = Seconds(300.0)}});
    Landing unclear = hard.landing(0.0);
    unclear.verdict = Verdict::notMeasurable;
    hard.give(unclear);
    CHECK(hard.runner.load().demanding == 1);
}

TEST_CASE("discarding strikes the last try and asks for it again, also out of the rest") {
    Player player({.drill = bending(1, {{2, 8}, {2, 9}}), .guitar = {}});
    player.play(30.0);
    player.play(20.0);
    player.runner.discard();
    CHECK(player.state().attempt == 2);
    CHECK(player.runner.tries() == 1);
    for (int i = 0; i < 5; ++i) player.play(0.0);
    CHECK(player.state().phase == DrillPhase::resting);
    player.runner.discard();
    CHECK(player.state().phase == DrillPhase::asking);
    CHECK(player.state().set == 1);
    CHECK(player.state().attempt == 6);
    player.play(1.0);
    CHECK(player.state().phase == DrillPhase::resting);
    CHECK(player.runner.tries() == 6);
    Player fresh({.drill = bending(1, {{2, 8}}), .guitar = {}});
    fresh.runner.discard();  // nothing to strike
    CHECK(fresh.state().attempt == 1);
}

TEST_CASE("a rest can be ended early, a minute off for the hand cannot") {
    Player easy({.drill = bending(1, {{2, 8}, {2, 9}}), .guitar = {}});
    for (int i = 0; i < 6; ++i) easy.play(0.0);
    CHECK_FALSE(easy.state().restStays);
    easy.runner.next(Seconds(easy.time));
    CHECK(easy.state().phase == DrillPhase::asking);

    Player hard({.drill = bending(2, {{2, 8}, {2, 10}}, 60.0), .guitar = {}, .load = {.played = Seconds(200.0)}});
    for (int i = 0; i < 6; ++i) hard.play(0.0);
    CHECK(hard.state().phase == DrillPhase::resting);
    CHECK(hard.state().left.value == 60.0);
    CHECK(hard.state().restStays);
    hard.runner.next(Seconds(hard.time));
    CHECK(hard.state().phase == DrillPhase::resting);
    CHECK(hard.state().message == "This minute off is for your hand, so it cannot be skipped.");
    hard.wait(60.5);
    CHECK(hard.state().phase == DrillPhase::asking);
    CHECK(hard.runner.load().demandingRunning == 0);
}

TEST_CASE("never twelve full steps running, whatever the player presses") {
    Player player(
        {.drill = bending(2, {{2, 8}, {2, 10}, {3, 9}}, 60.0), .guitar = {}, .load = {.played = Seconds(200.0)}});
    int most = 0;
    for (int step = 0; step < 400 && player.state().phase != DrillPhase::done; ++step) {
        if (player.state().phase == DrillPhase::asking) player.play(0.0);
        else {
            player.runner.next(Seconds(player.time));
            player.wait(0.5);
        }
        most = std::max(most, player.runner.load().demandingRunning);
    }
    CHECK(player.state().phase == DrillPhase::done);
    CHECK(player.runner.tries() == 18);
    CHECK(most < 12);
}

TEST_CASE("a full-step drill begins with a warm-up that counts down and can be left") {
    Player player({.drill = bending(2, {{2, 8}}, 60.0), .guitar = {}});
    CHECK(player.state().phase == DrillPhase::warmUp);
    CHECK(player.state().left.value == 120.0);
    player.play(0.0);
    CHECK(player.runner.tries() == 0);
    player.wait(60.0);
    CHECK(player.state().left.value == doctest::Approx(57.0));
    player.runner.next(Seconds(player.time));
    CHECK(player.state().phase == DrillPhase::asking);
    Player patient({.drill = bending(2, {{2, 8}}, 60.0), .guitar = {}});
    patient.wait(120.0);
    CHECK(patient.state().phase == DrillPhase::asking);
}

TEST_CASE("a drill ends when the sitting has had its full steps, and says so") {
    SittingLoad load;
    load.played = Seconds(400.0);
    load.demanding = 34;
    Player player({.drill = bending(2, {{2, 8}}, 60.0), .guitar = {}, .load = load});
    player.play(0.0);
    player.play(0.0);
    CHECK(player.state().phase == DrillPhase::done);
    CHECK(player.state().message.starts_with("36 full-step bends are enough for one sitting in the first month"));
    CHECK_FALSE(DrillRunner::make({.drill = bending(2, {{2, 8}}, 60.0), .guitar = {}, .load = player.runner.load()},
                                  Seconds(0.0)));
}

TEST_CASE("a drill ends after four minutes in hand, and time away from the guitar does not count") {
    Player player({.drill = bending(1, {{2, 8}}), .guitar = {}});
    player.wait(3600.0);  // the telephone
    CHECK(player.state().phase == DrillPhase::asking);
    CHECK(player.runner.load().played.value <= 20.5);
    Drill slow = bending(1, {{2, 8}, {2, 9}, {2, 10}, {3, 7}});
    Player dawdler({.drill = slow, .guitar = {}});
    while (dawdler.state().phase != DrillPhase::done && dawdler.time < 1000.0) {
        dawdler.wait(12.0);
        if (dawdler.state().phase == DrillPhase::asking) dawdler.play(0.0);
    }
    CHECK(dawdler.state().message == "4 minutes of one drill are enough");
    CHECK(dawdler.time < 260.0);
}

TEST_CASE("places that are too heavy or not on the neck are left out with their reasons") {
    Player player(
        {.drill = bending(2, {{2, 8}, {1, 1}, {2, 30}}, 60.0), .guitar = {}, .load = {.played = Seconds(200.0)}});
    CHECK(player.state().sets == 1);
    CHECK(player.runner.notes().size() == 2);
    const auto none = DrillRunner::make({.drill = bending(4, {{3, 9}}, 60.0), .guitar = {}}, Seconds(0.0));
    REQUIRE_FALSE(none);
    CHECK(none.error().message
          == "'Bend' cannot be played now: G string · fret 9: two-step bends are off until you ask for them");
    CHECK(DrillRunner::make({.drill = bending(4, {{3, 9}}, 60.0), .guitar = {}, .heavyAsked = true}, Seconds(0.0)));
}

TEST_CASE("three starts in a row off to one side: the string that slipped is named, and the drill waits") {
    Player player({.drill = bending(1, {{3, 7}, {3, 9}}), .guitar = {}});
    const auto start = [&player](double cents) {
        Landing landing = player.landing(0.0);
        landing.startError = Cents(cents);
        player.give(landing);
    };
    start(-9.0);
    start(8.0);  // pressed hard: not a string that slipped
    start(-9.0);
    start(-8.0);
    CHECK(player.state().phase == DrillPhase::asking);
    start(-11.0);
    CHECK(player.state().phase == DrillPhase::stringSlipped);
    CHECK(player.state().message == "G string 9 under: tighten it a little. Then play on.");
    CHECK(player.state().attempt == 5);
    start(-9.0);  // still out: it waits
    CHECK(player.state().phase == DrillPhase::stringSlipped);
    CHECK(player.state().attempt == 5);
    start(1.0);  // tuned: this try counts
    CHECK(player.state().phase == DrillPhase::asking);
    CHECK(player.state().attempt == 6);
}

TEST_CASE("a try without a start note neither counts toward a slipped string nor begins the counting anew") {
    Player player({.drill = bending(1, {{3, 7}, {3, 9}}), .guitar = {}});
    for (const auto start :
         {std::optional(Cents(-9.0)), std::optional(Cents(-9.0)), std::optional<Cents>(), std::optional(Cents(-9.0))}) {
        CHECK(player.state().phase == DrillPhase::asking);
        Landing landing = player.landing(0.0);
        landing.startError = start;
        player.give(landing);
    }
    CHECK(player.state().phase == DrillPhase::stringSlipped);
}

TEST_CASE("a player who goes on with a string as it is, is not stopped for it again") {
    Player player({.drill = bending(1, {{3, 7}, {3, 9}}), .guitar = {}});
    const auto start = [&player](double cents) {
        Landing landing = player.landing(0.0);
        landing.startError = Cents(cents);
        player.give(landing);
    };
    for (int i = 0; i < 3; ++i) start(9.0);
    CHECK(player.state().phase == DrillPhase::stringSlipped);
    player.runner.next(Seconds(player.time));
    for (int i = 0; i < 4; ++i) start(10.0);
    CHECK(player.state().phase == DrillPhase::resting);
    player.wait(21.0);
    for (int i = 0; i < 3; ++i) start(18.0);  // it has slipped further
    CHECK(player.state().phase == DrillPhase::stringSlipped);
}

TEST_CASE("the summary gives the typical miss, the share inside and one next step, guided tries left out") {
    Player player({.drill = bending(1, {{2, 8}, {2, 9}}), .guitar = {}});
    for (int i = 0; i < 3; ++i) player.play(90.0);  // guided: shown, not in the trend
    for (const double miss : {-30.0, -28.0, -14.0}) player.play(miss);
    player.wait(21.0);
    for (const double miss : {-12.0, -32.0, 6.0, -27.0, -20.0}) player.play(miss);
    player.die();
    CHECK(player.state().phase == DrillPhase::done);
    CHECK(player.runner.tries() == 12);
    const DrillSummary summary = player.summary();
    REQUIRE(summary.gestures.size() == 1);
    CHECK(summary.gestures[0].tries == 12);
    CHECK(summary.gestures[0].counted == 9);
    CHECK(summary.gestures[0].inside == 4);
    CHECK(summary.gestures[0].lost == 1);
    CHECK(summary.gestures[0].typicalError->value == -23.5);  // -32 -30 -28 -27 | -20 -14 -12 6
    CHECK(summary.gestures[0].typicalMiss->value == 23.5);    // 6 12 14 20 | 27 28 30 32
    CHECK(summary.words == Words{"Usually 24 cents off, mostly low", "4 of 9 within 25 cents; 1 died."});
    CHECK(summary.nextStep == "You usually stop short by 24 cents: push a little further.");
}

TEST_CASE("the next step fits the fault") {
    const auto advice = [](auto play) {
        Player player({.drill = bending(1, {{2, 8}}), .guitar = {}});
        for (int i = 0; i < 6; ++i) play(player, i);
        return player.summary().nextStep;
    };
    CHECK(advice([](Player& p, int) { p.play(31.0); }).starts_with("You usually go too far by 31 cents"));
    CHECK(advice([](Player& p, int i) {
              p.play(i % 3 == 0 ? 40.0 : i % 3 == 1 ? -40.0 : 5.0);
          }).starts_with("Right on average, but uneven"));
    CHECK(advice([](Player& p, int i) {
              p.play(i % 3 == 0 ? -34.0 : i % 3 == 1 ? -9.0 : 30.0);
          }).starts_with("Uneven: go slower"));
    CHECK(advice([](Player& p, int) { p.die(); }).starts_with("Keep the string pressed"));
    CHECK(advice([](Player& p, int) { p.play(3.0); }).starts_with("Keep it like that. Go on to the next drill"));
    CHECK(advice([](Player& p, int) {
              Landing half = p.landing(-100.0);
              half.verdict = Verdict::otherInterval;
              p.give(half);
          }).starts_with("Play the target note first"));
    Player nobody({.drill = bending(1, {{2, 8}}), .guitar = {}});
    nobody.runner.stop();
    CHECK(nobody.summary().words == Words{"Nothing played", ""});
}

TEST_CASE("the next step is for the step of the drill that misses most, also where two steps are of one gesture") {
    Drill drill = bending(1, {{3, 7}});
    drill.steps.push_back({Gesture::bend, 0, 2, 2});
    drill.guidedTries = 0;
    Player player({.drill = drill, .guitar = {}, .load = {.played = Seconds(300.0)}});
    for (int i = 0; i < 6; ++i) {
        player.play(2.0, 1);
        player.play(-41.0, 2);
    }
    CHECK(player.summary().words == Words{"Usually 22 cents off, mostly low", "6 of 12 within 25 cents."});
    CHECK(player.summary().nextStep == "You usually stop short by 41 cents: push a little further.");
}

TEST_CASE("the end shows each place and step beside the last time, and its advice is of the place that went worst") {
    Drill drill = bending(1, {{2, 8}, {2, 10}});
    drill.steps.push_back({Gesture::release, 1, 0, 0});
    const auto mark = [&](int fret, int step, double error) {
        DrillMark made;
        made.place = {2, fret};
        made.landing.moveNumber = step;
        made.landing.move.gesture = drill.steps[static_cast<std::size_t>(step - 1)].gesture;
        made.landing.verdict = error < 0.0 ? Verdict::under : Verdict::over;
        made.landing.landingError = made.landing.firstStopError = Cents(error);
        return made;
    };
    std::vector<DrillMark> marks;
    for (const double error : {3.0, -5.0, 8.0, -2.0})
        for (const int step : {1, 2}) marks.push_back(mark(8, step, error));
    for (const double error : {-31.0, -40.0, -35.0, 4.0}) {
        marks.push_back(mark(10, 1, error));
        marks.push_back(mark(10, 2, 6.0));
    }
    const DrillSummary now = summarise(marks, drill, Cents(25.0));
    CHECK(now.nextStep == "B string · fret 10: you usually stop short by 33 cents: push a little further.");
    const DrillSummary before = summarise(std::span(marks).first(2), drill, Cents(25.0));
    CHECK(endRows(now, before, drill, Guitar{})
          == std::vector<EndRow>{
              {"B string · fret 8, half step", "4 of 4 good, 4 ¢ off", "1 of 1 good, 3 ¢ off"},
              {"B string · fret 8, release a half step", "4 of 4 good, 4 ¢ off", "1 of 1 good, 3 ¢ off"},
              {"B string · fret 10, half step", "1 of 4 good, 33 ¢ off", ""},
              {"B string · fret 10, release a half step", "4 of 4 good, 6 ¢ off", ""}});
    CHECK(summarise(std::span(marks).first(8), drill, Cents(25.0)).nextStep.starts_with("Keep it like that."));
}

TEST_CASE("a slide counts by its fret, not by the guitar's cents") {
    Drill drill = bending(1, {{3, 2}});
    drill.steps = {{Gesture::slide, 0, 12}};
    drill.guidedTries = 0;
    Player player({.drill = drill, .guitar = {}});
    for (int i = 0; i < 6; ++i) {
        Landing landing = player.landing(i == 0 ? -100.0 : 14.0);
        landing.landedFret = i == 0 ? 13 : 14;
        landing.linger = Seconds(0.3);
        if (i == 0) landing.verdict = Verdict::wrongFret;
        player.give(landing);
    }
    const DrillSummary summary = player.summary();
    CHECK_FALSE(summary.gestures[0].typicalError);
    CHECK(summary.words == Words{"5 of 6 on the right fret", ""});
    CHECK(summary.nextStep == "Start the slide at once: the first note is only the way in.");
}

TEST_CASE("pre-bends that come up short are the hand's, not a string that slipped") {
    Drill drill = bending(2, {{2, 10}});
    drill.steps = {{Gesture::preBend, 0, 2}};
    DrillRunnerConfig config{.drill = drill, .guitar = {}};
    config.load.played = Seconds(600.0);  // warm
    Player player(config);
    for (int i = 0; i < 5; ++i) {
        Landing low = player.landing(-30.0);
        low.startError = Cents(-30.0);
        player.give(low);
    }
    CHECK(player.state().phase == DrillPhase::asking);
    CHECK(player.state().attempt == 6);
}
