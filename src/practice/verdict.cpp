#include "src/practice/verdict.h"

#include <array>
#include <cmath>

#include <fmt/core.h>

#include "src/music/note_name.h"
#include "src/practice/words.h"

namespace landfall {

namespace {

long whole(double cents) { return std::lround(std::abs(cents)); }

std::string step(int semitones) {
    switch (std::abs(semitones)) {
        case 1: return "half step";
        case 2: return "full step";
        case 3: return "step and a half";
        case 4: return "two steps";
        case 12: return "octave";
        default: return fmt::format("{} frets", std::abs(semitones));
    }
}

// 100 cents are one fret.
std::string shareOfFret(double cents) {
    static constexpr std::array<const char*, 11> words{
        "", "", "half", "a third", "a quarter", "a fifth", "a sixth", "a seventh", "an eighth", "a ninth", "a tenth"};
    const double size = std::abs(cents);
    if (size >= 87.5) return "a fret";
    if (size >= 70.0) return "three quarters of a fret";
    if (size >= 58.0) return "two thirds of a fret";
    const auto parts = static_cast<std::size_t>(std::lround(100.0 / size));
    return std::string(words[std::min<std::size_t>(parts, 10)]) + (parts == 2 ? " a fret" : " of a fret");
}

int askedSteps(const Move& move) { return static_cast<int>(std::lround(move.width())); }

int playedSteps(const Landing& landing, double startCents) {
    const double landed = 100.0 * landing.move.to.value + landing.landingError->value;
    return static_cast<int>(std::lround((landed - startCents) / 100.0));
}

// Where the landed pitch is below or above the one asked for, in whole frets.
int fretsOff(const Landing& landing) { return static_cast<int>(std::lround(landing.landingError->value / 100.0)); }

std::string fretSentence(const Landing& landing) {
    const Move& move = landing.move;
    if (move.place && landing.landedFret) {
        const int asked = move.targetFret.value_or(move.place->fret + askedSteps(move));
        return fmt::format("Stopped at {}; fret {} asked.", *landing.landedFret, asked);
    }
    const int off = fretsOff(landing);
    const bool past = off * move.direction() > 0.0;
    return fmt::format("Stopped {} fret{} {}.", std::abs(off), std::abs(off) == 1 ? "" : "s",
                       past ? "too far" : "short");
}

// "22 under", "about a fifth of a fret"
Words missWords(const Landing& landing, double error) {
    const GestureKind& kind = kindOf(landing.move.gesture);
    const bool easeOff = error > 0.0 && kind.bends && kind.course == Course::rises;
    return {fmt::format("{} {}", whole(error), error < 0.0 ? "under" : "over"),
            easeOff ? "ease off" : "about " + shareOfFret(error)};
}

std::string missSentence(const Landing& landing, double error, const VerdictConfig& config) {
    const Words miss = missWords(landing, error);
    if (std::abs(error) <= config.inTune) return fmt::format("In tune, {}.", miss.headline);
    return fmt::format("{}: {}.", miss.headline, miss.rest);
}

}  // namespace

std::string_view verdictName(Verdict verdict) {
    static constexpr std::array<std::string_view, 10> names{
        "dead on", "in tune",          "near",          "under", "over", "other interval", "wrong fret",
        "died",    "two strings rang", "not measurable"};
    return names[static_cast<std::size_t>(verdict)];
}

Cents markedError(const Landing& landing) {
    const bool marked = landing.correction || landing.move.gesture == Gesture::vibrato;
    return marked && landing.firstStopError ? *landing.firstStopError : *landing.landingError;
}

Verdict bandOf(Cents error, const VerdictConfig& config) {
    const double size = std::abs(error.value);
    if (size <= config.deadOn) return Verdict::deadOn;
    if (size <= config.inTune) return Verdict::inTune;
    if (size <= config.near) return Verdict::near;
    return error.value < 0.0 ? Verdict::under : Verdict::over;
}

Verdict verdictOf(const Landing& landing, double startCents, const VerdictConfig& config) {
    // Another interval or fret is nearer than the one asked.
    if (std::abs(landing.landingError->value) > 50.0) {
        const GestureKind& kind = kindOf(landing.move.gesture);
        if (kind.overFrets && fretsOff(landing) != 0) return Verdict::wrongFret;
        if (kind.bends && !kind.fromStroke) {
            const int played = playedSteps(landing, startCents);
            if (played != askedSteps(landing.move) && played != 0) return Verdict::otherInterval;
        }
    }
    return bandOf(markedError(landing), config);
}

Words wordsOf(const Landing& landing, const VerdictConfig& config) {
    const auto error = landing.landingError ? std::optional(markedError(landing)) : landing.firstStopError;
    switch (landing.verdict) {
        case Verdict::inTune:
        case Verdict::near:
        case Verdict::under:
        case Verdict::over: {
            if (!error) return {std::string(verdictName(Verdict::notMeasurable)), landing.sentence};
            const Words miss = missWords(landing, error->value);
            const bool plain = landing.sentence == missSentence(landing, error->value, config)
                               && std::abs(error->value) > config.inTune;
            return {miss.headline, plain ? capitalised(miss.rest) + "." : landing.sentence};
        }
        case Verdict::otherInterval: {
            // As far as the landing tells where it started.
            const double start = 100.0 * landing.move.from.value + landing.startError.value_or(Cents(0.0)).value;
            if (landing.landingError) return {step(playedSteps(landing, start)) + " played", landing.sentence};
            break;
        }
        default: break;
    }
    return {std::string(verdictName(landing.verdict)), landing.sentence};
}

std::string notHeldYetSentence(const Move& asked) {
    const long width = std::lround(asked.to.value - asked.frettedNote().value);
    return fmt::format("Hold {} once: until then this guitar's own pitch is not known.",
                       asked.place ? fmt::format("fret {}", asked.place->fret + width) : noteName(asked.to));
}

std::string notBegunSentence(const Move& asked, double heardCents, const VerdictConfig& config) {
    const bool preBend = asked.struckNote() != asked.from;
    const double off = heardCents - 100.0 * asked.struckNote().value;
    const auto miss = [&] { return fmt::format("{} {}", whole(off), off < 0.0 ? "under" : "over"); };
    if (preBend && std::abs(heardCents - 100.0 * asked.from.value) <= config.unbent)
        return "Picked unbent: bend first, then pick.";
    if (preBend && std::abs(off) <= config.bentNear)
        return fmt::format("Picked {} the bent note: not counted.", miss());
    const std::string start = noteName(asked.from);
    if (std::abs(off) < 100.0 && 100.0 - std::abs(off) > config.mistuned)
        return fmt::format("Heard {} {}: is the string in tune?", miss(), start);
    const std::string heard = noteName(MidiPitch(heardCents / 100.0));
    // Gain mixes two strings to the pitch whose partials both are.
    const double partial = std::round(std::exp2(-off / 1200.0));
    if (partial >= 3.0 && std::abs(off + 1200.0 * std::log2(partial)) < config.mistuned)
        return fmt::format("Heard {} under {}: do two strings ring?", heard, start);
    const bool fretted = asked.place && asked.struckNote() == asked.frettedNote();
    return fretted ? fmt::format("Heard {}; fret {} is {}.", heard, asked.place->fret, start)
                   : fmt::format("Heard {}; it begins on {}.", heard, start);
}

std::string sentenceOf(const Landing& landing, double startCents, const VerdictConfig& config) {
    switch (landing.verdict) {
        case Verdict::notMeasurable: return "Not measurable: the pitch was not clear.";
        case Verdict::twoStrings: return "Two strings rang: not counted.";
        case Verdict::died: return "Died before arriving.";
        case Verdict::otherInterval:
            return fmt::format("{} played; {} asked.", capitalised(step(playedSteps(landing, startCents))),
                               step(askedSteps(landing.move)));
        case Verdict::wrongFret: return fretSentence(landing);
        default: break;
    }
    const double error = markedError(landing).value;
    if (landing.move.gesture == Gesture::vibrato) {
        if (std::abs(error) <= config.deadOn) return "Dead on at its bottom.";
        if (std::abs(error) <= config.inTune)
            return fmt::format("In tune at its bottom, {} {}.", whole(error), error < 0 ? "under" : "over");
        return "Its bottom " + missSentence(landing, error, config);
    }
    const double landed = landing.landingError->value;
    const bool inTune = std::abs(landed) <= config.inTune, overFrets = kindOf(landing.move.gesture).overFrets;
    // First stop.
    if (landing.correction)
        return std::abs(landed) < std::abs(error)
                   ? fmt::format("First stop {} {}; you pulled it in.", whole(error), error < 0 ? "under" : "over")
                   : fmt::format("First stop {} {}, then {} {}.", whole(error), error < 0 ? "under" : "over",
                                 whole(landed), landed < 0 ? "under" : "over");
    if (inTune && landing.overshoot && overFrets && landing.overshoot->value >= 50.0) {
        const long frets = std::lround(landing.overshoot->value / 100.0);
        return fmt::format("Shot {} fret{} past, then right.", frets, frets == 1 ? "" : "s");
    }
    if (inTune && landing.overshoot && !overFrets && landing.overshoot->value >= config.overshootTold)
        return fmt::format("Shot {} past, settled in tune.", whole(landing.overshoot->value));
    if (!inTune) return missSentence(landing, error, config);
    // Hold.
    if (landing.sag && landing.sag->value >= config.sagTold)
        return fmt::format("Landed in tune, sank {}.", whole(landing.sag->value));
    // Time.
    if (overFrets) {
        const double late = landing.linger ? landing.linger->value - config.lingerAllowed : 0.0;
        if (late >= config.lingerTold) return fmt::format("Right fret; {:.1f} s too long on the first.", late);
    }
    return std::abs(error) <= config.deadOn ? "Dead on, and it stayed." : missSentence(landing, error, config);
}

}  // namespace landfall
