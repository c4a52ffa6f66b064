// Practising moves of several strings: which strokes are tries, and where each string of them landed, while they sound.
// The moves asked are the steps of one try. One thread, the analysis thread.
#pragma once

#include <deque>
#include <map>
#include <memory>
#include <optional>
#include <vector>

#include "dsp/voice_tracker.h"
#include "src/practice/chord_judge.h"
#include "src/practice/try_maker.h"

namespace landfall {

struct ChordTryConfig {
    ChordJudgeConfig judge{};
    // Share of the power that the asked strings may leave unexplained where they are struck: other notes leave more, and
    // what leaves more is noodling, or a fret's noise during a slide.
    double mostLeft = 0.35;
    double lookEvery = 0.030;  // s: how often the strings are followed further
    // The strings are damped where the level falls by so much within so short a time, and gone where it is so far under
    // its loudest.
    double damped = 15.0, gone = 45.0;  // dB
    double dampedWithin = 0.150;        // s
    double aloneLeast = 0.500;          // s: a stroke with no other so near was meant to be something
    double drawnOwn = 0.0024;           // share of the power: less is not drawn, a tenth of what counts as heard
    double otherNote = 50.0;            // cents: as far from the asked note it is another
    double movedLeast = 50.0;           // cents: less is no try at a move
    double nextStepWithin = 6.0;        // s: a try's next step, on a stroke of its own
    double longest = 20.0;              // s: strings are not followed for longer
    // Strings held where they are to land, so that this guitar's own pitches are known: so long after the stroke, read
    // from here on; heard in so much of that at least, and no further apart than this.
    double shapeHeld = 0.6, shapeFrom = 0.2;  // s
    double shapeLeast = 0.7;                  // share
    double shapeStays = 8.0;                  // cents
};

class ChordTry : public TryMaker {
public:
    ChordTry(const ChordTryConfig& given, const Around& with);

    void begin() override;
    void finish() override;
    std::size_t next() const override;
    std::optional<int> discardLast() override;
    void strokeHeard(const Onset& stroke, int note) override;
    void sound() override;

private:
    struct Stroke {
        double time = 0.0;
        int note = 0;
    };
    struct Sounding {  // a try while it sounds
        Stroke stroke;
        int number = 0;
        std::size_t first = 0;                  // of the moves: the step that was struck
        std::optional<double> firstStroke{};    // s: of one just before, which may have struck some of its strings
        std::vector<Move> steps{};              // those under its stroke
        std::map<std::size_t, Landing> said{};  // by step
        double shownTo = 0.0;                   // s: of its frames
        bool known = false;                     // that it is one
        bool struck = false, told = false;      // struck from the record; all of it is told
    };

    void noteEnded(Note /*over*/, bool /*rings*/) override {}

    void look();
    void weigh();
    void tellOdd(bool alone);
    void learnShape();
    void beginTry(const Stroke& stroke, std::size_t step, std::optional<double> firstStroke);
    std::optional<double> firstStrokeOf(const Stroke& stroke, std::size_t step) const;
    bool isMeant(const VoiceTracker::Frame& struck) const;
    void know(std::span<const VoiceTracker::Frame> frames);
    void grow(double end);
    void show(std::span<const VoiceTracker::Frame> frames);
    void endTry(double end);
    void endSteps(const std::vector<Landing>& landings, double end);
    bool hasMoved(std::span<const VoiceTracker::Frame> frames) const;
    bool hasCome(std::span<const VoiceTracker::Frame> frames) const;
    bool isOver() const;
    void forget();
    std::vector<Landing> judged(std::span<const VoiceTracker::Frame> frames, double end, bool over, bool whole);
    std::vector<std::size_t> candidates(const Stroke& stroke) const;
    std::size_t lookSamples() const;  // of a look
    std::size_t dampedLooks() const;  // looks in `dampedWithin`

    ChordTryConfig config;
    std::size_t lookedAt;         // samples
    std::deque<double> levels{};  // dB, of each `lookEvery`
    double loudest = -200.0;
    std::vector<Stroke> strokes{};  // not yet known to be tries
    struct Shape {
        Stroke stroke;
        Move move;
    };
    std::optional<Shape> shape{};  // strings that are held where a move is to land
    std::optional<Stroke> odd{};   // began none, and its word is still to come
    double lastStroke = -1.0;      // s
    std::optional<Sounding> current{};
    std::size_t expected = 0;  // the try's next step; 0: a new try
    double expectedUntil = 0.0;
    int lastNumber = 0;  // of the try whose next step is expected
};

}  // namespace landfall
