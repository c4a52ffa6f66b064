// The simulated player's hand: draws moves, runs and rests as pitch and events at control rate, and measures the truth
// on what it drew. One thread.
#pragma once

#include <array>
#include <cmath>
#include <cstdint>
#include <deque>
#include <functional>
#include <random>
#include <vector>

#include "src/audio/simulated_player.h"
#include "src/music/line.h"

namespace landfall {

// Another string of a move of several, as HandPoint.
struct OtherString {
    double pitch = 0.0;
    float fret = 0.0F, bend = 0.0F, strike = 0.0F, lose = 0.0F;
    std::int8_t string = -1;  // none
};

// What hand and pick do during one control period.
struct HandPoint {
    double pitch = 0.0;          // MIDI number of the first partial, the glide after the stroke included
    float fret = 0.0F;           // from the nut
    float bend = 0.0F;           // cents above the stopped note
    float strike = 0.0F;         // 0: no stroke, else its level
    float damp = 0.0F;           // 0: no, else the time constant in seconds for every string
    float lose = 0.0F;           // share of the energy a fret takes
    float scrape = 0.0F;         // string noise, amplitude
    std::int8_t string = 0;      // from 0
    std::int8_t neighbour = -1;  // a second string struck by mistake
    bool sounding = false;
    bool ringOn = false;  // a stroke that leaves the other strings sounding
    std::array<OtherString, mostStruckTogether - 1> others{};
};

class SimulatedHand {
public:
    SimulatedHand(const SimulatedPlayer::Config& config, double pointsPerSecond);

    void play(const std::vector<Move>& steps, const PlayerWish& wish);
    void playLine(const Line& line, double tempo);  // simulated_line.cpp
    void noodle(double seconds, NeckPlace around);
    void rest(double seconds);

    const HandPoint* next();  // null when nothing is queued; valid until the next call of anything
    std::int64_t pointsRead() const { return first + static_cast<std::int64_t>(taken); }
    std::size_t pointsQueued() const { return points.size() - taken; }
    const HandPoint* at(std::int64_t point) const;  // null: not queued, or forgotten
    void skip();                                    // time passes with nothing queued

    double openPitch(int string) const;  // MIDI, from 0, as it is tuned, without a capo
    std::vector<MoveTruth> truths;

private:
    struct Stop {                     // where a gesture stopped, in points
        std::int64_t start = 0;       // left the start note
        std::int64_t stopped = 0;     // end of the journey
        std::int64_t corrected = -1;  // end of the correction
        std::int64_t vibrato = -1, vibratoEnd = -1;
        std::int64_t holdEnd = 0;
    };

    double uniform(double low, double high);
    double normal(double mean, double spread);
    bool chance(double probability);

    // Drawing from the pen's place; seconds.
    void strike(double level);
    void hold(double seconds, double driftPerSecond = 0.0);
    void travel(double toPitch, double seconds, double early);
    void slide(int toFret, double perFret, double setup);
    void vibrato(double seconds, bool downwards);
    void muteStrings();
    void point();

    // A move of a line, in seconds: when the hand sets out for it, when its note is to end, and whether the move after
    // it goes on from there.
    struct InTime {
        double sets = 0.0, stops = 0.0;
        bool legato = false, lingers = false, wrongString = false;
    };
    // One playing of a move of a line, so much later than its beat.
    struct Turn {
        std::size_t move = 0;
        double later = 0.0;  // s
        bool playedAgain = false, waited = false;
    };
    // One string's steps, with a wish for each.
    void playSteps(const std::vector<Move>& steps, const std::vector<PlayerWish>& wishes);
    void playTogether(const std::vector<Move>& steps, const PlayerWish& wish);  // simulated_chord.cpp
    void join(const SimulatedHand& finger, std::size_t other, std::int64_t later, double drag);
    void pickSofter(double share);
    void goInStep(const Move& move, std::int64_t from, MoveTruth& truth);
    void measureTogether(MoveTruth& truth, const Move& move, std::size_t leading) const;
    std::optional<double> otherCents(std::size_t other, double from, double to, double against) const;
    bool habit(double likely) { return likely > 0.0 && chance(likely); }
    std::vector<Turn> courseOf(const Line& line, double quarter);
    double setsOut(const Line& line, const Turn& turn, double quarter);
    double travelTime(const LineMove& asked) const;
    void fall(double room, MoveTruth& truth);
    void playMove(const LineMove& asked, const InTime& when, MoveTruth& truth);
    void startInLine(const LineMove& asked, const InTime& when, MoveTruth& truth);
    void moveInLine(const LineMove& asked, double room, MoveTruth& truth);
    void waitUntil(double second);
    void letGo(double at, double gap);

    void chooseString(const Move& move);
    void begin(const Move& move, const PlayerWish& wish);
    void strikeFirst(const PlayerWish& wish);
    bool perform(const Move& move, const PlayerWish& wish, bool last, MoveTruth& truth);  // false: the note died
    Played decide(const Move& move, const PlayerWish& wish);
    void slideMove(const Move& move, const PlayerWish& wish, MoveTruth& truth);
    void bendMove(const Move& move, const PlayerWish& wish, MoveTruth& truth);
    double playedTarget(const Move& move, const PlayerWish& wish, Played played);
    double stopError(const Move& move, const PlayerWish& wish);
    void correct(const Move& move, const PlayerWish& wish, MoveTruth& truth, Stop& stop);
    void holdOn(const Move& move, const PlayerWish& wish, bool last, Stop& stop);
    struct Way {                         // of a move that will not arrive
        std::function<void(double)> go;  // so far of it, 0 to 1
        std::function<void()> back;
    };
    void fail(const PlayerWish& wish, const Way& way);
    void die(double timeConstant);
    void measureVibrato(MoveTruth& truth, const Stop& stop) const;
    double arrivalBefore(double stopped, double holdEnd, double notBefore) const;
    double restAfter(double arrival, double holdEnd, double way) const;
    void measure(MoveTruth& truth, const Stop& stop) const;
    std::vector<double> cents(double from, double to, double against) const;  // seconds, MIDI
    double seconds(std::int64_t point) const { return static_cast<double>(point) / rate; }
    std::int64_t span(double time) const { return std::llround(time * rate); }
    std::int64_t end() const { return first + static_cast<std::int64_t>(points.size()); }

    SimulatedPlayer::Config config;
    double rate;
    std::mt19937 engine;
    std::deque<HandPoint> points;
    std::int64_t first = 0;  // number of points.front()
    std::size_t taken = 0;   // of points
    int tries = 0;
    std::int64_t stroke = 0;  // the point of the last stroke

    // The pen.
    int string = 0;
    double pitch = 0.0;  // MIDI, without the glide
    double fret = 0.0;
    double stoppedPitch = 0.0;  // of the fret
    double glide = 0.0, sinceStroke = 0.0;
    bool sounding = false;
    bool ringOn = false;  // what sounds is not damped by the next stroke
    HandPoint pending;    // events for the next point
};

}  // namespace landfall
