#include "dsp/pitch_tracker.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <numbers>
#include <vector>

#include "dsp/coarse_period.h"
#include "dsp/decimator.h"
#include "dsp/echo_remover.h"
#include "dsp/noise_gate.h"
#include "dsp/onset_detector.h"
#include "dsp/partial_fit.h"
#include "dsp/partial_unrest.h"
#include "dsp/pitch_smoother.h"
#include "dsp/room_tail.h"
#include "dsp/sounding_partials.h"
#include "dsp/spectral_onset.h"

namespace landfall {

namespace {

constexpr double hopSeconds = 0.005;
constexpr double coarseSeconds = 0.048;
constexpr double levelSeconds = 0.020;
// So long after a stroke a pitch is expected to show, and what sounds is not taken for noise.
constexpr double newNoteSeconds = 0.15;
// Where the first look is not clear enough, so many must agree: half hops, 5 ms.
constexpr int newNoteLooks = 3;
// A note once heard alone for so long is one string's: dying, it may keep its second and third partials only.
constexpr int aloneHopsEnough = 40;
constexpr double aloneResidual = 0.2;
// A note that has sounded with all its partials for so long keeps its octave where every second or third goes missing:
// two copies that part by half a period, as in a chorus or a phaser, do that for tenths of a second. Longer, and it is
// another note whose stroke went unheard.
constexpr int fullHopsEnough = 6;
// of the sound in partials that are no multiples of two, nor of three: more than a guitar's body puts there
constexpr double fullShare = 0.15;
constexpr int emptyHopsMost = 100;
// A note that was followed for so long with these partials is no other one before they are three times emptier than
// what begins as empty: a room may raise every third.
constexpr int wholeHopsEnough = 20;
constexpr double wholeShare = 0.01;
constexpr double attackSeconds = 0.1;
// The stroke's thump, the body's low modes at 100 to 400 Hz, shares no period with the string, fills partials that are
// empty and is gone after some 50 ms. Until then the sound is also heard through a high-pass of first order, and a
// period that is as clear there counts for more.
constexpr double thumpSeconds = 0.05;
constexpr double thumpHertz = 1000.0;
constexpr double aboveThumpWorth = 0.1;  // of clarity
static_assert(thumpSeconds + hopSeconds < attackSeconds, "hasStepped() compares what the whole sound was fitted with");
constexpr double guardCents = 350.0;
constexpr int guardHops = 4;
// A rise of all bands by this is a stroke; frets and pull-offs stay under it mostly (battery of phrases, open half).
constexpr double clearRise = 0.15;
constexpr double sameStrokeSeconds = 0.050;
// A slide that stops is foreseen to go on by as much; the more periods, the closer they lie to the next whole number.
constexpr double commonCents = 150.0, commonSpan = 480.0, mostCommonPeriods = 8.0;
constexpr int commonHopsMost = 120;
constexpr double settledLagSeconds = 0.055;
constexpr double bufferSeconds = 0.30;

// Provisional window: three periods resolve the partials of a low string, 12 ms carry enough of a high one.
constexpr double provisionalPeriods = 3.0;
constexpr double provisionalSeconds = 0.012;
// A step to another fret: the newest sound differs from what the last fit foresees, by so many times what that fit left
// unexplained of its own. The partials' phases part within 1 or 2 ms. Between two hops a bend is foreseen, and noise
// was in the fit as well.
constexpr double newestSeconds = 0.0015;
constexpr double steppedTimes = 80.0;
constexpr double steppedLeast = 0.001;
// Settled half windows: long where the pitch is steady, short where it moves.
constexpr double steadyHalfSeconds = 0.050;
constexpr double movingHalfSeconds = 0.024;
constexpr double movingCentsPerSecond = 400.0;

// A pitch that runs as f + s t + c t²/2 through a Hann window of half width h is read as f + c h² <t⁴>/<t²>/6 when only
// s is fitted: <t²> = 1/3 - 2/pi², <t⁴> = 1/5 - 4/pi² + 24/pi⁴ of h² and h⁴. Faster changes than a vibrato's are steps,
// not curves.
constexpr double curvatureBias = 0.0525;
constexpr double fastestCurvature = 1.5e5;  // cents/s²; 9 Hz and 40 cents to each side
// The slopes lag and are smoothed themselves: three quarters of the bias may stay (rms on sinusoidal vibrato and smooth
// bends).
constexpr double curvatureDoubt = 0.75;
constexpr double smootherLagSeconds = 0.008;
// A step to another fret inside the window is no curve: the fit lies somewhere between the two pitches. Of what the
// provisional pitch went away from the fitted line beyond a bend's curvature, weighed as the fit weighs that moment, so
// much is doubt.
constexpr double stepDoubt = 0.5;
constexpr double bentAway = 20.0;  // cents
// Gain mixes the partials: what adds to the first are f2 - f1, f3 - f2 and so on, on a stiff string each a little sharp
// of it and too close to be told apart, and the partials are shifted together, so that none disagrees. It shows by the
// level: what a string loses, gain gives back. Fitted on simulated strings with tanh 5 to 50; less than the cent by
// which MoveFollower knows an unheard stroke, where the level rises as well.
constexpr double drivenDoubt = 0.9;  // cents, where the level does not fall
constexpr double freeDecay = 6.0;    // dB/s, a string's own
// Nothing moves a real string's first partial less than this.
constexpr double leastSettledSd = 0.1;

// B of a string nobody told us about: guitars lie between 1e-5 and 6e-4.
constexpr double unknownInharmonicity = 1e-4;
constexpr double unknownInharmonicitySd = 1.5e-4;
constexpr double hintDoubt = 0.3, hintDoubtLeast = 1e-6;  // of a B that we were told
// In three periods B is seen less well and takes what the stroke's noise does; more than this made recorded notes worse
// in their first 0.1 s.
constexpr double provisionalInharmonicitySd = 1e-4;

// How a fit goes about it: of so many partials, in so many steps, its slope held to so many cents per second. The first
// one finds the place from a rough pitch, the next one measures there.
struct Plan {
    std::size_t partials;
    int steps;
    double slopeSd;
};
constexpr Plan provisionalFirst{3, 3, 300.0}, provisionalFit{8, 2, 6000.0};
constexpr Plan besideFit{10, 2, 300.0};
constexpr Plan settledFirst{3, 2, 6000.0}, settledFit{10, 2, 6000.0};
constexpr double longestFitSeconds = 0.13;
// What a fit may leave unexplained, and how unsure it may be, to be a pitch.
constexpr double goodResidual = 0.5, goodSd = 15.0;  // cents
constexpr double brightResidual = 0.3;               // above it partials from the ninth up join in
constexpr double manyResidual = 0.2;     // many partials of a period taken too long explain half of any noise
constexpr double besideResidual = 0.85;  // beside another string
constexpr double settledResidual = 0.7, settledBesideResidual = 0.85;
constexpr double leastPeriods = 1.6, leastBesidePeriods = 3.0, leastBesideSeconds = 0.03, leastSettledPeriods = 2.0;
constexpr double settledFromStart = 120.0, settledFromBefore = 25.0;  // cents that a fit may go from where it began
constexpr std::size_t stiffPartials = 4;                              // that tell B

// How periodic a sound is that holds a note, is one that was followed and lost while it sounds on (a room keeps the frets
// it came by), begins one, is a note by itself, is a first look that needs no second, or what a fit leaves beside a
// pitch. A shorter stretch must be clearer than a longer one.
constexpr double heldClarity = 0.5, againClarity = 0.6, freshClarity = 0.75, loneClarity = 0.9, clearClarity = 0.9;
constexpr double attackClarity = 0.85, shorterBy = 0.05;
constexpr double clearSd = 5.0;                                                      // cents
constexpr std::array<double, 5> attackStretches{0.036, 0.024, 0.016, 0.012, 0.008};  // s, the newest sound
constexpr double besideClarity = 0.7, settledBesideClarity = 0.5;
constexpr double periodWithin = 150.0, coldPeriodWithin = 250.0;  // cents between a period and the fit about it
constexpr Decibels strongOther{-10.0};                            // a second note that makes one of no single string
// dBFS: of no note, and of a note that is clear but under the noise
constexpr double silentLevel = -90.0, faintLevel = -78.0;
constexpr Decibels emptyLevel{-140.0};
constexpr double shortLevelSeconds = 0.008, settledLevelSeconds = 0.010;
constexpr std::size_t learnHops = 4;  // at the beginning

constexpr double alikeWithin = 60.0;     // cents between two looks at one note
constexpr int oldNoteLooks = 4;          // that must agree where no stroke was heard
constexpr double leastMeasuredSd = 0.3;  // cents
constexpr double surelyMoving = 500.0,
                 unknownSpeedSd = 600.0;  // cents per second: sd of a slope that tells, of a start
constexpr double fastestFrom = 0.02;      // s back; a step makes the settled window short
constexpr double heardSoonAfter = 0.045;  // s: a moment that had no pitch yet has the note's first

// A weaker second note is not looked for: it does not spoil a pitch. Nor is one a harmonic, or a slide's last fret.
constexpr double leastOtherShare = 0.02;
constexpr double harmonicWithin = 40.0, otherApart = 130.0;  // cents
constexpr double mainsBelow = 310.0;                         // Hz: a hum's multiples that are strong enough
// In octaves: what was heard before is the same note, or one of two strings.
constexpr double sameOctaves = 1.0 / 24.0, nearOctaves = 1.0 / 12.0;

double centsOf(double hertz) { return 1200.0 * std::log2(hertz / standardA4.value); }
double hertzOf(double cents) { return standardA4.value * std::exp2(cents / 1200.0); }
double hertzPerSecond(double hertz, double centsPerSecond) { return hertz * centsPerSecond * std::log(2.0) / 1200.0; }
double centsPerSecond(double hertz, double slope) { return slope / hertz * 1200.0 / std::log(2.0); }

void follow(const Plan& plan, PartialFit::Request& request) {
    request.partials = plan.partials;
    request.steps = plan.steps;
    request.slopeSd = plan.slopeSd;
}

// The spectral centroid over the first partial's frequency, of the partials that were fitted: the quantity that goes
// with how bright a tone is heard to be (Grey & Gordon, JASA 63, 1978).
double brightnessOf(const PartialFit::Result& fit) {
    double power = 0.0, weighed = 0.0;
    for (std::size_t k = 0; k < fit.partials; ++k) {
        power += static_cast<double>(fit.power[k]);
        weighed += static_cast<double>(k + 1) * static_cast<double>(fit.power[k]);
    }
    return power > 0.0 ? weighed / power : 0.0;
}

// Multiples of 50 and 60 Hz within 14 cents: a hum can sit there, and a note that does must rise above what was there
// before.
bool couldBeMains(double hertz) {
    for (double mains : {50.0, 60.0}) {
        const double multiple = std::max(1.0, std::round(hertz / mains));
        if (std::abs(hertz / (multiple * mains) - 1.0) < 0.008) return true;
    }
    return false;
}

}  // namespace

namespace {

struct Hop {
    std::size_t end = 0;  // working samples
    bool voiced = false;
    std::size_t noteStart = 0;
    double cents = 0.0;  // at end
    double speed = 0.0;
};

// What is followed from a stroke on. The next stroke puts another in its place.
struct FollowedNote {
    std::size_t start = 0;  // working samples
    bool fresh = true;      // no measurement since the stroke
    int goodHops = 0, leaps = 0, aloneHops = 0;
    int commonHops = 0;               // for which a common period with something else has been refused
    int fullHops = 0, emptyHops = 0;  // with and without all partials
    int wholeHops = 0;                // with more than empty ones
    double lastGoodCents = 0.0;

    double inharmonicity = unknownInharmonicity, inharmonicitySd = unknownInharmonicitySd;
    double inharmonicityAt = 0.0;  // Hz; 0: not measured

    PartialFit::Heard heard{};               // by the last provisional fit
    std::size_t heardFrom = 0, heardTo = 0;  // working samples
    double heardResidual = 1.0;

    // While bending, tension rises: B falls with the square of the pitch (Fletcher & Rossing, section 2.18).
    double inharmonicityFor(double hertz) const {
        return inharmonicityAt > 0.0 ? inharmonicity * std::pow(inharmonicityAt / hertz, 2.0) : inharmonicity;
    }
    bool keepsOctave() const { return fullHops >= fullHopsEnough && emptyHops <= emptyHopsMost; }
};

// The settled stream's last fit, and what its slopes and levels were before.
struct SettledNote {
    bool running = false;
    PartialFit::Tone tone{};
    std::size_t at = 0, start = 0;
    double pitch = 0.0;  // Hz, of the frame before; 0 after a pause

    struct Slope {
        std::size_t centre = 0, noteStart = 0;
        double slope = 0.0, sd = 0.0;  // cents per second
    };
    std::array<Slope, 4> slopes{};
    std::size_t slopeCount = 0;

    std::array<double, 20> levels{};  // of the last settled frames of a note, dBFS
    std::size_t levelCount = 0;
};

// All that a reset forgets, but for what the other blocks and the buffers hold.
struct Course {
    static constexpr std::size_t hopsKept = 64;

    std::size_t count = 0;  // working samples so far
    double thump = 0.0;     // what lies below thumpHertz
    std::array<Hop, hopsKept> hops{};
    std::size_t hopCount = 0;
    std::array<std::size_t, 8> strokes{};
    std::size_t strokeCount = 0;

    PitchSmoother smoother{};
    PartialUnrest unrest{};
    PitchTracker::StringHint stringHint{};
    bool voiced = false;
    bool loud = false;  // at the last hop
    bool strokesOnly = false;
    int badHops = 0;
    FollowedNote note{};
    SettledNote last{};
};

}  // namespace

struct PitchTracker::State : Course {
    enum class Sound { whole, aboveThump };
    struct Measured {
        bool good = false;
        double moment = 0.0;  // working samples
        double cents = 0.0, sd = 0.0, speed = 0.0, speedSd = 0.0;
        std::size_t factor = 1;  // of the pitch it was started from
    };

    // Fixed after construction.
    Config config;
    Decimator decimator;
    double rate;
    std::size_t hopSamples, bufferSamples, lagSamples;

    CoarsePeriod coarse;
    PartialFit partialFit;
    OnsetDetector onsetDetector;
    SpectralOnset spectralOnset;
    NoiseGate gate;
    EchoRemover echoRemover;
    RoomTail roomTail;

    // The last bufferSamples, twice, so that every stretch lies in one piece; and the same without what lies below
    // thumpHertz.
    std::vector<float> buffer, bufferAboveThump, bufferWithTail;
    double thumpShare;  // how much of what lies above a sample adds to what lies below

    std::vector<PitchFrame> provisional, settled;
    std::vector<Onset> onsets;
    std::vector<Growth> growths;
    std::vector<Break> breaks;

    explicit State(const Config& wanted)
        : config(wanted), decimator({wanted.sampleRate}), rate(decimator.workingRate()),
          hopSamples(static_cast<std::size_t>(hopSeconds * rate)),
          bufferSamples(static_cast<std::size_t>(bufferSeconds * rate)),
          lagSamples(static_cast<std::size_t>(settledLagSeconds * rate)),
          coarse({rate, wanted.lowest, wanted.highest, Seconds(coarseSeconds)}),
          partialFit({rate, static_cast<std::size_t>(longestFitSeconds * rate)}), onsetDetector({rate}),
          spectralOnset({rate}), gate({Seconds(hopSeconds)}), echoRemover({rate, wanted.lowest, wanted.highest}),
          roomTail({rate}), buffer(2 * bufferSamples, 0.0f), bufferAboveThump(2 * bufferSamples, 0.0f),
          bufferWithTail(2 * bufferSamples, 0.0f),
          thumpShare(1.0 - 1.0 / (1.0 + 2.0 * std::numbers::pi * thumpHertz / rate)) {
        assert(wanted.sampleRate >= 16000.0 && wanted.sampleRate <= 192000.0);
        const std::size_t frames = maxBlockSamples / (hopSamples * decimator.factor()) + 2;
        provisional.reserve(2 * frames);
        settled.reserve(frames);
        onsets.reserve(frames);
        growths.reserve(frames);
        breaks.reserve(frames);
    }

    Seconds availableTime(std::size_t working) const {
        return Seconds(static_cast<double>(working * decimator.factor()) / config.sampleRate);
    }
    // Of a working sample by its (fractional) number: it describes the input in the middle of the filter.
    Seconds momentTime(double working) const {
        const double input = (working + 1.0) * static_cast<double>(decimator.factor()) - 1.0
                             - static_cast<double>(decimator.latencySamples());
        return Seconds(std::max(0.0, input / config.sampleRate));
    }
    std::span<const float> stretch(std::size_t begin, std::size_t end, Sound sound = Sound::whole) const {
        const std::size_t length = end - begin;
        const std::size_t newest = (end - 1) % bufferSamples + bufferSamples;
        return std::span<const float>(sound == Sound::whole ? buffer : bufferAboveThump)
            .subspan(newest + 1 - length, length);
    }
    std::size_t backFrom(std::size_t end, double seconds) const {
        const auto samples = static_cast<std::size_t>(seconds * rate);
        return end - std::min(end, samples);
    }
    double levelBetween(std::size_t begin, std::size_t end) const {
        double sum = 0.0;
        for (float x : stretch(begin, end)) sum += static_cast<double>(x) * static_cast<double>(x);
        return std::max(emptyLevel.value, 10.0 * std::log10(2.0 * sum / static_cast<double>(end - begin) + 1e-30));
    }
    void pushSample(float sample) noexcept {
        const std::optional<float> heard = decimator.push(sample);
        if (!heard) return;
        const float working = config.connected ? *heard : echoRemover.push(*heard);
        keep(working);
        if (echoRemover.begun()) hearAgain();
        if (const auto stroke = onsetDetector.push(working)) takeStroke(*stroke);
        if (const auto grown = onsetDetector.growth(); grown && growths.size() < growths.capacity())
            growths.push_back({momentTime(static_cast<double>(grown->sample)), grown->growth});
        if (config.connected)
            if (const auto rise = spectralOnset.push(working)) takeRise(*rise);
        if (count % hopSamples == 0) hop();
        else if (count % hopSamples == hopSamples / 2) halfHop();
    }

    void keep(float working) noexcept {
        const std::size_t place = count % bufferSamples;
        buffer[place] = buffer[place + bufferSamples] = working;
        bufferWithTail[place] = bufferWithTail[place + bufferSamples] = working;
        thump += thumpShare * (static_cast<double>(working) - thump);
        bufferAboveThump[place] = bufferAboveThump[place + bufferSamples] =
            static_cast<float>(static_cast<double>(working) - thump);
        ++count;
    }

    // The last sound again, without the echo that is known now.
    void hearAgain() noexcept {
        const std::size_t now = count;
        count -= std::min(count, bufferSamples);
        for (const float working : echoRemover.newest(now - count)) keep(working);
    }

    void takeStroke(const OnsetDetector::Stroke& stroke) noexcept {
        echoRemover.struck(stroke.sample);
        roomTail.struck();
        strokes[strokeCount % strokes.size()] = stroke.sample;
        ++strokeCount;
        note = {.start = stroke.sample};
        if (stringHint.inharmonicity) {
            note.inharmonicity = *stringHint.inharmonicity;
            note.inharmonicitySd = hintDoubt * note.inharmonicity + hintDoubtLeast;
        }
        if (onsets.size() < onsets.capacity())
            onsets.push_back({availableTime(count), momentTime(static_cast<double>(stroke.sample)), stroke.rise});
    }

    // A rise is a stroke where it is clear enough and the other detector has not heard it.
    void takeRise(const SpectralOnset::Rise& rise) noexcept {
        if (breaks.size() < breaks.capacity())
            breaks.push_back({momentTime(static_cast<double>(rise.sample)), rise.strength});
        const std::size_t before = strokeCount > 0 ? strokes[(strokeCount - 1) % strokes.size()] : 0;
        const bool heard = strokeCount > 0 && rise.sample < before + static_cast<std::size_t>(sameStrokeSeconds * rate);
        if (!heard && rise.strength > clearRise)
            takeStroke({rise.sample, Decibels(20.0 * std::numbers::log10e * rise.strength)});
    }

    Measured measureAround(double hertz, double slope, std::size_t end, std::size_t oldest, bool cold,
                           Sound sound) noexcept {
        Measured measured;
        const double wanted = std::max(provisionalPeriods / hertz, provisionalSeconds);
        const std::size_t begin = std::max(oldest, backFrom(end, wanted));
        if (end <= begin || static_cast<double>(end - begin) < leastPeriods * rate / hertz) return measured;
        const auto samples = stretch(begin, end, sound);
        PartialFit::Request request;
        request.moment = 0.5 * static_cast<double>(samples.size() - 1);
        request.start = {Hertz(hertz), slope, note.inharmonicityFor(hertz)};
        PartialFit::Result result;
        if (cold) {
            follow(provisionalFirst, request);
            result = partialFit.fit(samples, request);
            if (!result.usable) return measured;
            request.start = result.tone;
        }
        follow(provisionalFit, request);
        request.inharmonicitySd = std::min(note.inharmonicitySd, provisionalInharmonicitySd);
        result = fitBright(samples, request);
        if (!result.usable) return measured;
        const double pitch = result.tone.pitch.value;
        const bool octaveUp = roomTail.isOctaveBelow(Hertz(pitch));
        const std::size_t factor =
            octaveUp ? 2 : emptyPeriods(result, note.aloneHops < aloneHopsEnough, stringHint.expected);
        if (!cold && end - note.start >= static_cast<std::size_t>(thumpSeconds * rate)) {
            note.emptyHops = factor > 1 ? note.emptyHops + 1 : 0;
            if (shareBetweenMultiples(result) > fullShare) ++note.fullHops;
            if (factor == 1) ++note.wholeHops;
        }
        const bool stillWhole =
            note.wholeHops >= wholeHopsEnough && factor <= 3 && shareBetweenMultiples(result) > wholeShare;
        if (factor > 1 && (cold || octaveUp || !(note.keepsOctave() || stillWhole))) {
            const double higher = pitch * static_cast<double>(factor);
            if (!cold || higher > config.highest.value) return measured;
            measured = measureAround(higher, result.tone.slope * static_cast<double>(factor), end, oldest, cold, sound);
            measured.factor *= factor;
            return measured;
        }
        if (pitch < config.lowest.value || pitch > config.highest.value) return measured;
        if (cold && result.partials > provisionalFit.partials && result.residual > manyResidual) return measured;
        measured.moment = static_cast<double>(begin) + request.moment;
        measured.cents = centsOf(pitch);
        measured.sd = result.sd.value;
        measured.speed = centsPerSecond(pitch, result.tone.slope);
        measured.speedSd = result.slopeSd;
        measured.good = result.residual < goodResidual && result.sd.value < goodSd;
        if (!cold && measured.good && result.residual < aloneResidual) ++note.aloneHops;
        if (measured.good) {
            note.heard = partialFit.heard();
            note.heardFrom = begin;
            note.heardTo = end;
            note.heardResidual = result.residual;
        }
        return measured;
    }

    // A pickup by the bridge can leave most of the sound to partials from the ninth up: where the fit leaves much,
    // these join in.
    PartialFit::Result fitBright(std::span<const float> samples, PartialFit::Request& request) noexcept {
        const auto result = partialFit.fit(samples, request);
        if (!result.usable || result.residual < brightResidual || result.partials < request.partials) return result;
        request.start = result.tone;
        request.partials = PartialFit::maxPartials;
        request.inharmonicitySd = note.inharmonicitySd;
        const auto brighter = partialFit.fit(samples, request);
        return brighter.usable && brighter.residual < result.residual ? brighter : result;
    }

    // Two strings at once: no common period, or one that is no note. One is a pitch if what it leaves is a note as
    // well.
    Measured measureBesideAnother(double hertz, std::size_t end) noexcept {
        Measured measured;
        const std::size_t begin = std::max(note.start, backFrom(end, coarseSeconds));
        if (static_cast<double>(end - begin) < std::max(leastBesideSeconds, leastBesidePeriods / hertz) * rate)
            return measured;
        const auto samples = stretch(begin, end);
        PartialFit::Request request;
        request.moment = 0.5 * static_cast<double>(samples.size() - 1);
        request.start = {Hertz(hertz), 0.0, note.inharmonicityFor(hertz)};
        follow(provisionalFirst, request);
        auto result = partialFit.fit(samples, request);
        if (!result.usable) return measured;
        request.start = result.tone;
        follow(besideFit, request);
        result = partialFit.fit(samples, request);
        if (!result.usable || result.residual > besideResidual || result.sd.value > goodSd
            || emptyPeriods(result, true, {}) != 1)
            return measured;
        if (otherNote(result, besideClarity) < strongOther) return measured;
        const double pitch = result.tone.pitch.value;
        measured = {true,
                    static_cast<double>(begin) + request.moment,
                    centsOf(pitch),
                    result.sd.value,
                    centsPerSecond(pitch, result.tone.slope),
                    result.slopeSd};
        return measured;
    }

    void hop() noexcept {
        if (strokesOnly) {
            record(count);
        } else {
            if (!config.connected) takeTailOut(count);
            hear(count);
        }
        if (count > lagSamples) settle(count);
    }

    // What a room still sounds of a pitch that the string has left.
    void takeTailOut(std::size_t end) noexcept {
        const std::size_t length = roomTail.windowSamples();
        if (end < length) return;
        RoomTail::Place place{};
        if (voiced) {
            const auto now = smoother.at(momentTime(static_cast<double>(end)));
            const double before = now.pitch.value - now.speed * static_cast<double>(length) / rate;
            place = {Hertz(hertzOf(now.pitch.value)), Hertz(hertzOf(before)), note.inharmonicity};
        }
        const std::size_t newest = (end - 1) % bufferSamples + bufferSamples;
        const std::size_t found =
            roomTail.find(std::span<const float>(bufferWithTail).subspan(newest + 1 - length, length), end,
                          voiced ? &place : nullptr, hopSamples);
        for (std::size_t n = 0; n < found; ++n) {
            const std::size_t at = (end - found + n) % bufferSamples;
            buffer[at] = buffer[at + bufferSamples] = bufferWithTail[at] - roomTail.tail()[n];
        }
    }

    void hear(std::size_t end) noexcept {
        const double level = levelBetween(backFrom(end, levelSeconds), end);
        const double shortLevel = levelBetween(backFrom(end, shortLevelSeconds), end);
        loud = gate.update(Decibels(std::max(level, note.fresh ? shortLevel : level)),
                           !voiced && note.goodHops == 0
                               && (hopCount < learnHops || strokeCount == 0
                                   || end - note.start > static_cast<std::size_t>(newNoteSeconds * rate)));
        const bool stepped = hasStepped(end);
        look(end, level);
        record(end);
        provisional.push_back(frameAt(end, level));
        if (stepped) provisional.back().pitch.reset();
    }

    // What sounds is no longer followed, or looked for afresh.
    void hearStrokesOnly(bool only) noexcept {
        if (only == strokesOnly) return;
        strokesOnly = only;
        voiced = loud = false;
        badHops = note.goodHops = 0;
        smoother.stop();
    }

    // Whether the newest sound is no longer what the last fit goes on to: another fret, of which the window has heard
    // too little to name it.
    bool hasStepped(std::size_t end) const noexcept {
        if (!voiced || note.heardTo + hopSamples != end
            || end - note.start < static_cast<std::size_t>(attackSeconds * rate))
            return false;
        const std::size_t newest = backFrom(end, newestSeconds);
        const double unforeseen =
            partialFit.unforeseen(note.heard, stretch(newest, end), static_cast<double>(newest - note.heardFrom));
        return unforeseen > steppedTimes * (note.heardResidual + steppedLeast);
    }

    // Halfway between two hops, from a stroke to its first pitch: it is seen so much sooner.
    void halfHop() noexcept {
        if (voiced || !loud || !isNewNote(count)) return;
        const double level = levelBetween(backFrom(count, levelSeconds), count);
        look(count, level);
        if (voiced) provisional.push_back(frameAt(count, level));
    }

    bool isNewNote(std::size_t end) const {
        return note.fresh && end - note.start < static_cast<std::size_t>(newNoteSeconds * rate);
    }

    PitchFrame frameAt(std::size_t end, double level) const {
        PitchFrame frame{availableTime(end), availableTime(end), std::nullopt,
                         Cents(0.0),         Decibels(level),    note.inharmonicity};
        if (!voiced) return frame;
        const auto now = smoother.at(frame.available);
        frame.pitch = Hertz(hertzOf(now.pitch.value));
        frame.sd = now.sd;
        return frame;
    }

    void record(std::size_t end) noexcept {
        Hop& hop = hops[hopCount % hopsKept];
        hop = {end, voiced, note.start, 0.0, 0.0};
        if (voiced) {
            const auto now = smoother.at(availableTime(end));
            hop.cents = now.pitch.value;
            hop.speed = now.speed;
        }
        ++hopCount;
    }

    // What the newest sound has as its period. In a new note its last few milliseconds are heard by themselves too: a
    // noisy or soft attack hides a period that they already show.
    std::optional<CoarsePeriod::Candidate> findPeriod(std::size_t end, double level, std::optional<Hertz> near,
                                                      Sound attackHeard) noexcept {
        const std::size_t oldest = std::max(note.start, end - std::min(end, coarse.longestSamples()));
        if (level <= silentLevel) return std::nullopt;
        auto candidate = coarse.find(stretch(oldest, end), near);
        if (voiced || !loud) return candidate;
        double asked = std::max(attackClarity, candidate ? candidate->clarity + shorterBy : 0.0);
        for (const double seconds : attackStretches) {
            const std::size_t begin = std::max(oldest, backFrom(end, seconds));
            if (begin <= oldest) continue;
            for (const Sound sound : {Sound::whole, Sound::aboveThump}) {
                if (sound == Sound::aboveThump && attackHeard != sound) break;
                const auto shorter = coarse.find(stretch(begin, end, sound), near);
                const double worth =
                    shorter ? shorter->clarity + (sound == Sound::aboveThump ? aboveThumpWorth : 0.0) : 0.0;
                if (worth <= asked) continue;
                candidate = shorter;
                asked = worth + shorterBy;
            }
        }
        return candidate;
    }

    // The fit around a period, or beside another string that sounds on.
    Measured measurePeriod(const std::optional<CoarsePeriod::Candidate>& candidate, std::size_t end,
                           std::optional<Hertz> near, Sound attackHeard) noexcept {
        Measured measured;
        const bool again = !config.connected && loud && !note.fresh && note.wholeHops >= wholeHopsEnough;
        const double clarityAsked = voiced ? heldClarity : again ? againClarity : freshClarity;
        if (candidate && candidate->clarity >= clarityAsked) {
            if (voiced && !note.fresh && near) {
                const auto now = smoother.at(
                    momentTime(static_cast<double>(end)
                               - 0.5 * std::max(provisionalPeriods / near->value, provisionalSeconds) * rate));
                const double hertz = hertzOf(now.pitch.value);
                measured = measureAround(hertz, hertzPerSecond(hertz, now.speed), end, note.start, false, attackHeard);
                const double period = note.keepsOctave() && note.emptyHops > 0
                                          ? std::max(1.0, std::round(candidate->pitch.value / hertz))
                                          : 1.0;
                if (measured.good && std::abs(measured.cents - centsOf(candidate->pitch.value / period)) > periodWithin)
                    measured.good = false;
            }
            if (!measured.good) {
                measured = measureAround(candidate->pitch.value, 0.0, end, note.start, true, Sound::whole);
                if (attackHeard == Sound::aboveThump) {
                    // Partials that the whole sound shows to be empty are.
                    const Measured above =
                        measureAround(candidate->pitch.value, 0.0, end, note.start, true, attackHeard);
                    if (above.good && (!measured.good || above.factor >= measured.factor)) measured = above;
                }
            }
            if (measured.good
                && std::abs(measured.cents - centsOf(candidate->pitch.value * static_cast<double>(measured.factor)))
                       > coldPeriodWithin)
                measured.good = false;
        }
        if (!measured.good && candidate && loud && strokeCount > 0) {
            const double asked =
                voiced && near ? near->value : candidate->pitch.value * static_cast<double>(measured.factor);
            measured = measureBesideAnother(asked, end);
        }
        return measured;
    }

    // How many of its own periods make the period found. An echo, or a string that rings on, makes the common period of
    // both; a string does not fall an octave or more at once without a stroke, so for a while its own is kept.
    std::size_t commonPeriods(Hertz period, std::optional<Hertz> near, std::size_t end) noexcept {
        std::size_t factor = 1;
        if (voiced && !note.fresh && near && end - note.start > static_cast<std::size_t>(newNoteSeconds * rate)) {
            const double times = std::clamp(std::round(near->value / period.value), 1.0, mostCommonPeriods);
            if (std::abs(centsOf(times * period.value) - centsOf(near->value))
                < std::min(commonCents, commonSpan / times))
                factor = static_cast<std::size_t>(times);
        }
        note.commonHops = factor > 1 ? note.commonHops + 1 : 0;
        return note.commonHops <= commonHopsMost ? factor : 1;
    }

    // Period, fit, and what follows from them for the note.
    void look(std::size_t end, double level) noexcept {
        std::optional<Hertz> near;
        if (voiced && !note.fresh) near = Hertz(hertzOf(smoother.at(momentTime(static_cast<double>(end))).pitch.value));
        else if (note.fresh && stringHint.expected) near = stringHint.expected;
        const Sound attackHeard =
            end - note.start < static_cast<std::size_t>(thumpSeconds * rate) ? Sound::aboveThump : Sound::whole;
        const bool newNote = isNewNote(end);
        auto candidate = findPeriod(end, level, near, attackHeard);
        if (candidate)
            candidate->pitch =
                Hertz(static_cast<double>(commonPeriods(candidate->pitch, near, end)) * candidate->pitch.value);
        Measured measured = measurePeriod(candidate, end, near, attackHeard);
        const bool audible = loud
                             || (candidate && candidate->clarity > (voiced ? heldClarity : loneClarity)
                                 && level > faintLevel && !couldBeMains(candidate->pitch.value));
        // The octave guard: without a stroke a pitch does not jump, unless it stays there. Partials that turn out empty
        // right after one are no jump: the stroke's own thump had filled them.
        const bool attack = end - note.start < static_cast<std::size_t>(attackSeconds * rate);
        const bool leap = measured.good && voiced && !note.fresh && near
                          && (std::abs(measured.cents - centsOf(near->value)) > guardCents
                              || (roomTail.isAt(Hertz(hertzOf(measured.cents))) && !roomTail.isAt(*near)));
        note.leaps = leap ? note.leaps + 1 : 0;
        if (leap && note.leaps < guardHops && !(attack && measured.factor > 1)) measured.good = false;
        if (measured.good && audible)
            takeMeasurement(measured, newNote, candidate->clarity > clearClarity && measured.sd < clearSd);
        else missMeasurement();
    }

    void takeMeasurement(const Measured& measured, bool newNote, bool clear) noexcept {
        badHops = 0;
        const Seconds moment = momentTime(measured.moment);
        const Cents sd(std::hypot(measured.sd, leastMeasuredSd));
        const bool alike = note.goodHops > 0 && std::abs(measured.cents - note.lastGoodCents) < alikeWithin;
        note.lastGoodCents = measured.cents;
        note.goodHops = alike ? note.goodHops + 1 : 1;
        if (!voiced && note.goodHops < (newNote ? (clear ? 1 : newNoteLooks) : oldNoteLooks)) return;
        if (!voiced || !smoother.running() || !smoother.measure(moment, Cents(measured.cents), sd))
            smoother.start(moment, Cents(measured.cents), sd,
                           measured.speedSd < surelyMoving && std::abs(measured.speed) < PitchSmoother::fastestBend
                               ? measured.speed
                               : 0.0,
                           unknownSpeedSd);
        voiced = true;
        note.fresh = false;
    }

    void missMeasurement() noexcept {
        note.goodHops = 0;
        if (!voiced) return;
        if (++badHops > guardHops) {
            voiced = false;
            badHops = 0;
            smoother.stop();
        }
    }

    const Hop* hopAt(std::size_t sample) const {
        // The first hop that ends at or after the sample.
        const std::size_t number = (sample + hopSamples - 1) / hopSamples;
        if (number == 0 || number > hopCount || hopCount - number >= hopsKept) return nullptr;
        return &hops[(number - 1) % hopsKept];
    }

    void settle(std::size_t end) noexcept {
        const std::size_t centre = end - lagSamples;
        PitchFrame frame{availableTime(end), momentTime(static_cast<double>(centre)),
                         std::nullopt,       Cents(0.0),
                         emptyLevel,         note.inharmonicity};
        frame.level =
            Decibels(levelBetween(backFrom(centre, settledLevelSeconds),
                                  std::min(end, centre + static_cast<std::size_t>(settledLevelSeconds * rate))));
        if (const Hop* hop = voicedHopFor(centre, end)) fitSettled(*hop, centre, end, frame);
        if (!frame.pitch) roomTail.hear(centre, {});
        last.running = frame.pitch.has_value();
        if (!last.running) last.pitch = 0.0, unrest.hearNothing();
        settled.push_back(frame);
    }

    // The hop whose pitch belongs to `centre`: its own, or within heardSoonAfter the first of the note that had begun by
    // then.
    const Hop* voicedHopFor(std::size_t centre, std::size_t end) const {
        for (std::size_t at = centre; at <= std::min(end, centre + static_cast<std::size_t>(heardSoonAfter * rate));
             at += hopSamples) {
            const Hop* hop = hopAt(at);
            if (hop == nullptr) return nullptr;
            if (hop->voiced && hop->noteStart <= centre) return hop;
        }
        return nullptr;
    }

    // Where the settled fit of a moment begins: `warm`: from the settled fit before, which saw more.
    struct SettledStart {
        double hertz = 0.0, slope = 0.0;
        bool warm = false;
    };
    SettledStart settledStart(const Hop& hop, std::size_t centre) const noexcept {
        const double ahead = static_cast<double>(hop.end) / rate - static_cast<double>(centre) / rate;
        const double hertz = hertzOf(hop.cents - hop.speed * ahead);
        if (last.running && last.start == hop.noteStart) {
            const double predicted =
                last.tone.pitch.value + last.tone.slope * static_cast<double>(centre - last.at) / rate;
            if (std::abs(1200.0 * std::log2(predicted / hertz)) < settledFromBefore) {
                return {predicted, last.tone.slope, true};
            }
        }
        return {hertz, hertzPerSecond(hertz, hop.speed), false};
    }

    PartialFit::Result fitAround(const SettledStart& from, std::span<const float> samples, double moment) noexcept {
        PartialFit::Request request;
        request.start = {Hertz(from.hertz), from.slope, note.inharmonicityFor(from.hertz)};
        request.moment = moment;
        request.taper = true;
        PartialFit::Result result;
        if (!from.warm) {
            follow(settledFirst, request);
            result = partialFit.fit(samples, request);
            if (!result.usable) return result;
            request.start = result.tone;
        }
        follow(settledFit, request);
        request.inharmonicitySd = note.inharmonicitySd;
        request.partialsDisagree = true;
        return fitBright(samples, request);
    }

    // How fast the pitch turns about a moment, cents/s², at least `bend`. The slopes come from the past half window; the
    // smoother has already seen the next one.
    double turningAt(std::size_t centre, std::size_t end, double half, double bend) const noexcept {
        double turning = std::abs(bend);
        const Hop* from = hopAt(backFrom(centre, half - smootherLagSeconds));
        const Hop* to = hopAt(std::min(
            end, centre + static_cast<std::size_t>(std::min(half + smootherLagSeconds, settledLagSeconds) * rate)));
        if (from != nullptr && to != nullptr && from->voiced && to->voiced && from->noteStart == to->noteStart
            && to->end > from->end)
            turning =
                std::max(turning, std::abs(to->speed - from->speed) * rate / static_cast<double>(to->end - from->end));
        return turning;
    }

    void fitSettled(const Hop& hop, std::size_t centre, std::size_t end, PitchFrame& frame) noexcept {
        double fastest = 0.0;
        for (std::size_t at = backFrom(centre, fastestFrom); at <= std::min(end, centre + lagSamples * 2 / 3);
             at += hopSamples)
            if (const Hop* h = hopAt(at); h != nullptr && h->voiced) fastest = std::max(fastest, std::abs(h->speed));
        const SettledStart from = settledStart(hop, centre);
        const double hertz = from.hertz;
        const bool moving = fastest > movingCentsPerSecond;
        const double half = std::max(moving ? movingHalfSeconds : steadyHalfSeconds, leastSettledPeriods / hertz);
        const auto halfSamples = static_cast<std::size_t>(half * rate);
        std::size_t begin = std::max(hop.noteStart, centre - std::min(centre, halfSamples));
        std::size_t stop = std::min(end, centre + halfSamples);
        for (std::size_t i = 0; i < std::min(strokeCount, strokes.size()); ++i)
            if (strokes[i] > centre) stop = std::min(stop, strokes[i]);
        if (end - begin > bufferSamples || stop <= begin
            || static_cast<double>(stop - begin) < leastSettledPeriods * rate / hertz)
            return;
        const auto samples = stretch(begin, stop);

        const PartialFit::Result result = fitAround(from, samples, static_cast<double>(centre - begin));
        const Decibels other = otherNote(result, settledBesideClarity);
        const double pitch = result.tone.pitch.value;
        if (!result.usable
            || result.residual > (!moving && other > strongOther ? settledBesideResidual : settledResidual)
            || pitch < config.lowest.value || pitch > config.highest.value
            || std::abs(1200.0 * std::log2(pitch / hertz)) > settledFromStart)
            return;
        if (!last.running || last.start != hop.noteStart) last.levelCount = 0;
        roomTail.hear(centre, result);
        last.tone = result.tone;
        last.at = centre;
        last.start = hop.noteStart;
        const double bend = curvature(centsPerSecond(pitch, result.tone.slope), result.slopeSd, centre);
        // The weighed half window in seconds; the tone's moment lies in its middle except at a note's edges.
        const double halfWindow = 0.5 * static_cast<double>(stop - begin) / rate;
        const double bias = curvatureBias * bend * halfWindow * halfWindow;
        frame.pitch = Hertz(pitch * std::exp2(-bias / 1200.0));
        const double turning = turningAt(centre, end, half, bend);
        frame.sd = Cents(std::hypot(result.sd.value, leastSettledSd,
                                    curvatureDoubt * curvatureBias * turning * halfWindow * halfWindow));
        const double away =
            farthestFrom(centsOf(pitch), centsPerSecond(pitch, result.tone.slope), centre, begin, stop, hop.noteStart);
        frame.sd = Cents(std::hypot(frame.sd.value, stepDoubt * away,
                                    drivenDoubt * std::clamp(1.0 + levelSlope(frame.level) / freeDecay, 0.0, 1.0)));
        frame.inharmonicity = result.tone.inharmonicity;
        frame.brightness = brightnessOf(result);
        frame.otherNote = other;
        nameBoth(result, frame);
        last.pitch = frame.pitch->value;
        frame.wander =
            unrest.hear({hop.noteStart, static_cast<double>(centre - hop.noteStart) / rate, moving || away > 0.0,
                         frame.pitch.value(), std::span<const float>(result.power).first(result.partials)});
        frame.sd = Cents(std::hypot(frame.sd.value, frame.wander.value));
        if (!moving && result.partials >= stiffPartials && hop.noteStart == note.start) {
            note.inharmonicity = result.tone.inharmonicity;
            note.inharmonicitySd = std::clamp(3.0 * result.inharmonicitySd, 3e-6, unknownInharmonicitySd);
            note.inharmonicityAt = pitch;
            frame.inharmonicitySd = result.inharmonicitySd;
        }
    }

    // How far the provisional pitch went from the line through a settled one, weighed with the fit's window; 0 within
    // bentAway.
    double farthestFrom(double cents, double speed, std::size_t centre, std::size_t begin, std::size_t stop,
                        std::size_t noteStart) const noexcept {
        double farthest = 0.0;
        for (std::size_t at = begin + hopSamples; at <= stop; at += hopSamples) {
            const Hop* h = hopAt(at);
            if (h == nullptr || !h->voiced || h->noteStart != noteStart) continue;
            const double seconds = (static_cast<double>(h->end) - static_cast<double>(centre)) / rate;
            const double phase = std::numbers::pi * (static_cast<double>(at) - static_cast<double>(begin))
                                 / static_cast<double>(stop - begin);
            const double weight = std::sin(phase) * std::sin(phase);
            farthest = std::max(farthest, weight * (std::abs(h->cents - cents - speed * seconds) - bentAway));
        }
        return farthest;
    }

    // dB/s over the last tenth of a second of the note, this frame's included; a free string's where that is too short
    // to say.
    double levelSlope(Decibels level) noexcept {
        last.levels[last.levelCount++ % last.levels.size()] = level.value;
        const std::size_t heard = std::min(last.levelCount, last.levels.size());
        if (heard < 5) return -freeDecay;
        const double middle = 0.5 * static_cast<double>(heard - 1);
        double along = 0.0, squares = 0.0;
        for (std::size_t i = 0; i < heard; ++i) {
            const double offset = middle - static_cast<double>(i);
            along += offset * last.levels[(last.levelCount - 1 - i) % last.levels.size()];
            squares += offset * offset;
        }
        return along / squares * rate / static_cast<double>(hopSamples);
    }

    // How fast the slope changes, cents/s², over the last settled frames of the same note; 0 where that is not known.
    double curvature(double slope, double slopeSd, std::size_t centre) noexcept {
        const SettledNote::Slope& before = last.slopes[last.slopeCount % last.slopes.size()];  // the oldest
        double change = 0.0;
        const std::size_t span = last.slopes.size() * hopSamples;
        if (last.slopeCount >= last.slopes.size() && before.centre + span == centre && before.noteStart == last.start) {
            const double seconds = static_cast<double>(span) / rate;
            change = (slope - before.slope) / seconds;
            const double sd = std::hypot(slopeSd, before.sd) / seconds;
            change *= std::max(0.0, 1.0 - 4.0 * sd * sd / (change * change + 1e-9));
        }
        last.slopes[last.slopeCount++ % last.slopes.size()] = {centre, last.start, slope, slopeSd};
        return std::abs(change) < fastestCurvature ? change : 0.0;
    }

    // Where two strings were fitted as one period that they share: the frame's pitch is the string it was on before,
    // else the louder one.
    void nameBoth(const PartialFit::Result& fit, PitchFrame& frame) const noexcept {
        if (frame.otherNote > PitchFrame::noOtherNote && !note.keepsOctave())
            frame.pitch = Hertz(frame.pitch->value * static_cast<double>(emptyPeriods(fit, false, {})));
        const auto shared = sharedPeriod(fit);
        if (!shared) return;
        const double period = frame.pitch->value;
        // one string was heard there before
        if (last.pitch > 0.0 && note.keepsOctave() && std::abs(std::log2(period / last.pitch)) < sameOctaves) return;
        const double low = period * static_cast<double>(shared->lower),
                     high = period * static_cast<double>(shared->upper);
        const double fromLow = std::abs(std::log2(low / last.pitch)), fromHigh = std::abs(std::log2(high / last.pitch));
        const bool before = last.pitch > 0.0 && std::min(fromLow, fromHigh) < nearOctaves;
        const bool onLow = before ? fromLow < fromHigh : shared->lowerPower >= shared->upperPower;
        if (std::max(low, high) > config.highest.value) return;
        frame.pitch = Hertz(onLow ? low : high);
        frame.otherNote =
            Decibels(10.0 * std::log10((onLow ? shared->upperPower : shared->lowerPower) / shared->power));
    }

    // A second note is a period of its own in what the fit leaves: harmonics of the pitch, noise and hum are none.
    Decibels otherNote(const PartialFit::Result& fit, double clarityAsked) noexcept {
        if (!fit.usable || fit.residual < leastOtherShare) return PitchFrame::noOtherNote;
        auto rest = partialFit.leftover();
        if (rest.size() > coarse.longestSamples())
            rest = rest.subspan((rest.size() - coarse.longestSamples()) / 2, coarse.longestSamples());
        const auto candidate = coarse.find(rest, std::nullopt);
        if (!candidate || candidate->clarity < clarityAsked
            || (candidate->pitch.value < mainsBelow && couldBeMains(candidate->pitch.value)))
            return PitchFrame::noOtherNote;
        const double ratio = candidate->pitch.value / fit.tone.pitch.value;
        const double harmonic = ratio >= 1.0 ? std::round(ratio) : 1.0 / std::round(1.0 / ratio);
        if (std::abs(1200.0 * std::log2(ratio / harmonic)) < harmonicWithin
            || std::abs(1200.0 * std::log2(ratio)) < otherApart)
            return PitchFrame::noOtherNote;
        return std::max(PitchFrame::noOtherNote, Decibels(10.0 * std::log10(fit.residual * candidate->clarity)));
    }

    void clear() noexcept {
        decimator.reset();
        onsetDetector.reset();
        spectralOnset.reset();
        gate.reset();
        echoRemover.reset();
        roomTail.reset();
        std::fill(bufferWithTail.begin(), bufferWithTail.end(), 0.0f);
        std::fill(buffer.begin(), buffer.end(), 0.0f);
        std::fill(bufferAboveThump.begin(), bufferAboveThump.end(), 0.0f);
        static_cast<Course&>(*this) = {};
    }
};

PitchTracker::PitchTracker(const Config& config) : state(std::make_unique<State>(config)) {}
PitchTracker::~PitchTracker() = default;
PitchTracker::PitchTracker(PitchTracker&&) noexcept = default;
PitchTracker& PitchTracker::operator=(PitchTracker&&) noexcept = default;

PitchTracker::Output PitchTracker::process(std::span<const float> samples) noexcept {
    assert(samples.size() <= maxBlockSamples);
    state->provisional.clear();
    state->settled.clear();
    state->onsets.clear();
    state->growths.clear();
    state->breaks.clear();
    for (float sample : samples) state->pushSample(sample);
    return {state->provisional, state->settled, state->onsets, state->growths, state->breaks};
}

void PitchTracker::hint(const StringHint& hint) noexcept {
    state->stringHint = hint;
    const double stiffness = hint.inharmonicity.value_or(0.0);
    if (!(stiffness > 0.0 && stiffness < 0.01)) state->stringHint.inharmonicity.reset();
}

void PitchTracker::hearStrokesOnly(bool only) noexcept { state->hearStrokesOnly(only); }

Seconds PitchTracker::latency() const noexcept {
    const State& s = *state;
    return s.availableTime(s.lagSamples + s.hopSamples)
           + Seconds(static_cast<double>(s.decimator.latencySamples()) / s.config.sampleRate);
}

void PitchTracker::reset() noexcept { state->clear(); }

}  // namespace landfall
