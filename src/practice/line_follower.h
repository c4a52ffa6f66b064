// Which of what was played belongs to which move of a line, with the mistakes of a player: wrong and missed notes, extra
// ones, a bar begun again. A Viterbi search forward over the frames; every cost stands in LineFollowerConfig. One
// thread.
#pragma once

#include <array>
#include <cstdint>
#include <deque>
#include <optional>
#include <span>
#include <vector>

#include "dsp/pitch_frame.h"
#include "src/music/line.h"
#include "src/practice/talk_ear.h"

namespace landfall {

// All are costs, as negative logarithms of odds; those of a frame are paid 200 times a second.
struct LineFollowerConfig {
    Hertz a4 = standardA4;

    // What goes wrong, once each.
    double missed = 4.5;
    double wrong = 5.0;
    double extra = 5.0;
    double died = 3.0;
    double playedAgain = 3.0;                   // the same move
    double begunAgain = 6.0, atBarLine = 1.25;  // an earlier one; so much less where a bar begins
    double noWay = 1.0;                         // the way of a move went unheard
    double pickedAnyway = 1.5;                  // a stroke where the move was to go on from the one before
    double pickedElsewhere = 3.0;               // and that on another pitch: rather a note of its own
    double startNotLanded = 3.0;                // goes on from a move that has not landed
    double soundsAgain = 4.0;                   // the pitch comes back without a stroke
    double ends = 0.2;

    // Strokes: a move that is picked asks for one, and a note that rings on for none.
    double strokeUnheard = 7.0, weakStroke = 1.5;
    double strokeIgnored = 6.0, weakIgnored = 0.7, ignoredInSilence = 1.0;
    double clearStroke = 0.20, clearOnTheWay = 0.40, weakest = 0.10;  // nepers, Break::strength

    // Pitch, a frame.
    double flat = 45.0, steep = 20.0;  // cents: free within `flat`, full cost `steep` beyond
    double elsewhere = 0.6, octaveOff = 0.3;
    double silent = 0.1, silentElsewhere = 0.3;
    double pitchInSilence = 0.35, noiseInSilence = 0.1;
    double onTheWay = 0.02, stands = 0.1, backwards = 0.1;  // a way: while the pitch moves, and while it stands
    double wrongSteady = 0.02, wrongMoving = 0.05;
    double shortest = 0.040, tooShort = 4.0;  // s; a move that is left at once, and less as it lasts longer
    // dB under the loudest of the last so many seconds: the string is damped, and its pitch counts little
    double fadingBy = 20.0, loudWithin = 1.0, duringFade = 0.2;
    double moving = 60.0;                              // cents/s
    double attack = 0.040, duringAttack = 0.3;         // s after a stroke, and what a frame weighs there
    double hintBelow = 20.0, hintAbove = 90.0;         // cents about the note it starts on
    double vibratoBelow = 60.0, vibratoAbove = 110.0;  // about the note
    double letDown = 85.0;                             // by a vibrato on a bend; a half step less is another one
    double past = 60.0;                                // cents: a way may go so far past its ends

    // Moves of several strings: of them a tracker of one string hears one, none, or a note of its own making.
    double noneOfThem = 0.03;        // a frame
    double ringsTo = 30.0;           // dB under the loudest so far: they still sound
    double unheardTogether = 0.02;   // a frame without a pitch, while they sound
    double unstruckTogether = 10.0;  // two detectors hear several strings struck
    double goneOnTogether = 0.3;     // from one to the next under the same stroke, which no pitch shows
    double strum = 0.040;            // s: strings struck so far apart are one stroke
};

// One playing of a move, in frames; what did not happen is empty.
struct Playing {
    std::size_t move = 0;
    std::size_t begin = 0, end = 0;       // frames; `end` is one past the last that sounds
    std::optional<std::size_t> left{};    // the note it started on, or the move before, was left
    std::optional<std::size_t> landed{};  // the first frame on the target
    std::optional<std::size_t> wrong{};   // the first on another pitch
    bool died = false;
    std::optional<double> stroke{};  // s
};

class LineFollower {
public:
    struct Frame {
        double time = 0.0;              // s, centre
        std::optional<double> cents;    // 100 * MIDI pitch at the set A4
        double sd = 0.0, wander = 0.0;  // cents, as of PitchFrame
        double level = -140.0;          // dBFS
        double brightness = 0.0;        // as of PitchFrame
        double slope = 0.0;             // cents/s, about it
        double stroke = 0.0;            // strength of the break that falls into it; 0: none
        double strokeAt = 0.0;          // s
        bool attack = false;            // a stroke was just before
        double weight = 1.0;            // of its pitch
        bool rings = false;             // something sounds, whatever its pitch
    };
    struct Played {
        std::vector<Playing>
            moves;  // in the order in which they were played; of a move that came twice the last counts
        std::vector<double> extraStrokes;  // s, of notes that belong to no move
    };

    // `followed` must outlive it.
    LineFollower(const Line& followed, const LineFollowerConfig& given);

    // A break before the frames that lie around it.
    void hear(const Break& stroke);
    void hear(const PitchFrame& settled);
    // The input is over.
    void finish();

    // The likeliest course up to the last frame heard, where nothing more is to come.
    Played played() const { return courseTo(likeliestEnd(), done); }
    // The likeliest course so far, and of it the first `frames` frames.
    static constexpr std::size_t all = static_cast<std::size_t>(-1);
    Played playedSoFar(std::size_t frames = all) const { return courseTo(now, frames); }
    std::span<const Frame> frames() const { return heard; }
    std::size_t searched() const { return done; }  // of the frames

    // Where the likeliest course is now: 0 before the first move, i + 1 in or after the i-th.
    std::size_t position() const { return now / parts; }
    double lead() const;                                        // so much more any other position costs
    Seconds quietFor() const { return sinceFrame(lastSound); }  // since anything sounded
    Seconds restsFor() const { return sinceFrame(lastMove); }   // since a move did
    // Forgets what was heard before a frame, at most `searched()`, and looks for the line afresh from there on.
    void beginAgain(std::size_t frame);

private:
    enum Part : std::size_t { start, way, land, wrong, dead, quiet, extra, parts };
    struct Step {
        double cost = 1e9;
        std::uint32_t from = 0;
        std::size_t begun = 0;  // frame with which the move began
        bool fresh = false;     // begins here, not going on
    };

    // Positions: 0 before the first move, i + 1 in or after the i-th.
    std::size_t state(std::size_t position, Part part) const { return position * parts + part; }
    std::size_t positions() const { return line.moves.size() + 1; }
    bool hasStart(const LineMove& move) const;
    double pitchCost(const LineMove& move, Part part, const Frame& frame) const;
    bool mayLand(const LineMove& move, const Frame& frame) const;
    double frameCost(std::size_t position, Part part, const Frame& frame) const;
    double togetherCost(std::size_t position, const Frame& frame) const;
    bool isTogether(std::size_t position) const { return position > 0 && !strings[position - 1].empty(); }
    void takeBreaks(Frame& frame);
    double pickCost(double stroke) const;
    double ignoreCost(double stroke, Part part) const;
    double unlandedCost(std::size_t position, Part part) const;
    double brief(std::size_t from) const;
    double leaving(std::size_t from) const { return costs[from] + brief(from); }
    void restart();
    Seconds sinceFrame(std::size_t frame) const;
    void findEntries();
    void step();
    void lookWhere();
    void silence(std::span<const std::size_t> talk);
    void goBack(std::size_t frame);
    std::size_t likeliestEnd() const;
    Played courseTo(std::size_t at, std::size_t frames) const;
    void enter(std::size_t position, const Frame& frame, std::vector<Step>& next) const;
    void goOn(std::size_t position, const Frame& frame, std::vector<Step>& next) const;

    const Line& line;
    LineFollowerConfig config;
    std::vector<bool> beginsBar;  // of each move: it is the first of its bar
    struct Reach {
        double low, high;  // cents
    };
    std::vector<std::vector<Reach>> strings;  // of each move of several: where each may sound
    bool severalStrings = false;              // any such move
    std::vector<Frame> heard;
    std::size_t done = 0;  // frames that have been searched
    std::deque<Break> breaks;
    double lastBreak = -1.0;
    std::vector<double> costs;
    std::vector<std::size_t> begun;  // of each state's cheapest course: the frame with which its move began
    std::vector<Step> entries;       // of each position: from where it is entered the cheapest
    std::vector<std::vector<std::uint16_t>> back;  // a frame's steps; the highest bit: fresh
    std::size_t now = 0;                           // the cheapest state
    std::size_t lastSound = 0, lastMove = 0;       // frames
    // How far the search had come, now and then in the last seconds: what turns out to be talk is searched again
    // without.
    struct Kept {
        std::size_t done, now, lastSound, lastMove;
        std::vector<double> costs;
        std::vector<std::size_t> begun;
    };
    std::deque<Kept> kept;
    TalkEar talkEar;
    double loudestYet = -140.0;  // dBFS
};

}  // namespace landfall
