#include "src/practice/bend_or_slide.h"

#include <doctest/doctest.h>

#include "src/audio/simulated_player.h"
#include "src/practice/listener.h"
#include "tests/support/played_curve.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

Move unnamed(double from, double to) {
    Move move = moveOf(Gesture::bend, from, to);
    move.asHeard = true;
    return move;
}

std::vector<Landing> landingsOf(PlayedCurve& curve, const Move& move) {
    std::vector<Landing> landings;
    for (const TryEnded& one : eventsOf<TryEnded>(curve.heardBy({move}, MoveOrder::once)))
        landings.push_back(one.landing);
    return landings;
}

Gesture told(PlayedCurve& curve, const Move& move) {
    const auto landings = landingsOf(curve, move);
    REQUIRE(landings.size() == 1);
    REQUIRE(landings[0].landingError);
    CHECK_FALSE(landings[0].move.asHeard);
    return landings[0].move.gesture;
}

}  // namespace

TEST_CASE("A smooth rise is a bend, a smooth fall a release, however slow") {
    for (const double seconds : {0.1, 0.25, 0.8}) {
        CAPTURE(seconds);
        PlayedCurve up, down;
        up.rest(0.5).stroke(62).hold(0.4).glide(195, seconds).hold(0.7).rest(0.5);
        down.rest(0.5).stroke(64).hold(0.4).glide(-195, seconds).hold(0.7).rest(0.5);
        CHECK(told(up, unnamed(62, 64)) == Gesture::bend);
        CHECK(told(down, unnamed(64, 62)) == Gesture::release);
    }
}

TEST_CASE("A staircase of frets is a slide, fast or slow, up or down") {
    for (const double perFret : {0.03, 0.08, 0.15})
        for (const int frets : {2, 4, -2}) {
            CAPTURE(perFret);
            CAPTURE(frets);
            PlayedCurve curve;
            curve.rest(0.5).stroke(64).hold(0.4).frets(frets, perFret).hold(0.7).rest(0.5);
            CHECK(told(curve, unnamed(64, 64 + frets)) == Gesture::slide);
        }
}

TEST_CASE("A bend that rests a half step up and goes on is no slide") {
    PlayedCurve curve;
    curve.rest(0.5).stroke(62).hold(0.4).glide(100, 0.12).hold(0.07).glide(100, 0.12).hold(0.7).rest(0.5);
    CHECK(told(curve, unnamed(62, 64)) == Gesture::bend);
}

TEST_CASE("Further than two steps no string is bent") {
    PlayedCurve five;
    five.rest(0.5).stroke(57).hold(0.3).glide(500, 0.5).hold(0.5).rest(0.5);
    CHECK(told(five, unnamed(57, 62)) == Gesture::slide);
    PlayedCurve curve;
    curve.rest(0.5).stroke(60).hold(0.4).glide(700, 0.3).hold(0.7).rest(0.5);
    CHECK(told(curve, unnamed(60, 67)) == Gesture::slide);
}

TEST_CASE("A move without a gesture that died keeps its question") {
    PlayedCurve curve;
    curve.rest(0.5).stroke(62).hold(0.4).glide(100, 0.15).rest(0.6);
    const auto landings = landingsOf(curve, unnamed(62, 64));
    REQUIRE(landings.size() == 1);
    CHECK(landings[0].verdict == Verdict::died);
    CHECK(landings[0].move.asHeard);
}

TEST_CASE("From the simulated player's sound, clean and with gain, a full step and a two-fret slide are told apart") {
    for (const double gain : {0.0, 20.0}) {
        CAPTURE(gain);
        SimulatedPlayer::Config student;
        student.seed = 31;
        student.skill = noor();
        student.gain = gain;
        SimulatedPlayer player(student);
        Move bend = moveOf(Gesture::bend, 67, 69), slide = moveOf(Gesture::slide, 67, 69);
        bend.place = slide.place = NeckPlace{2, 8};
        slide.targetFret = 10;
        player.rest(Seconds(0.5));
        for (const Move& move : {bend, slide, bend, slide}) {
            player.play(move, {.played = Played::landed, .doubleStroke = false});
            player.rest(Seconds(0.8));
        }
        std::vector<float> sound(static_cast<std::size_t>((player.queued().value + 0.5) * 48000.0));
        player.read(sound);
        Listener listener({.sampleRate = 48000.0});
        listener.setMoves({unnamed(67, 69)}, MoveOrder::everyTry);
        std::vector<Gesture> heard;
        const auto keep = [&](std::span<const ListenerEvent> events) {
            for (const ListenerEvent& event : events)
                if (const auto* ended = std::get_if<TryEnded>(&event)) heard.push_back(ended->landing.move.gesture);
        };
        keep(listener.process(sound));
        keep(listener.finish());
        CHECK(heard == std::vector{Gesture::bend, Gesture::slide, Gesture::bend, Gesture::slide});
    }
}
