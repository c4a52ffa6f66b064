#include "src/practice/verdict.h"

#include <array>
#include <cmath>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/music/chord_move.h"
#include "src/music/note_name.h"
#include "src/practice/words.h"

namespace landfall {

namespace {

long whole(double cents) { return std::lround(std::abs(cents)); }

std::string step(int semitones) {
    switch (std::abs(semitones)) {
        case 1: return "a half step";
        case 2: return "a full step";
        case 3: return "a step and a half";
        case 4: return "two steps";
        case 12: return "an octave";
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
        return fmt::format("You landed on fret {}, not {}.", *landing.landedFret, asked);
    }
    const int off = fretsOff(landing);
    const bool past = off * move.direction() > 0.0;
    return fmt::format("You landed {} fret{} {}.", std::abs(off), std::abs(off) == 1 ? "" : "s",
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
    const double size = std::abs(error);
    if (size <= config.aim) return fmt::format("{}, {}.", size <= config.inTune ? "In tune" : "Good", miss.headline);
    return fmt::format("{}: {}.", miss.headline, miss.rest);
}

// Of a try whose landing is good, and whose hold is not.
std::optional<std::string> holdFault(const Landing& landing, const VerdictConfig& config) {
    if (!landing.sag || landing.sag->value < config.sagTold || landing.correction) return {};
    return fmt::format("sank by {}", whole(landing.sag->value));
}

// Of a good try of a drill about the hold.
Words holdWords(const Landing& landing, const VerdictConfig& config) {
    if (heldOf(landing, config) == Held::stayed) return {"stayed", landing.sentence};
    return {"let go early", fmt::format("Held for {:.1f} s. Hold it for two full seconds.", landing.holdLength->value)};
}

// Of a drill about slowness, once it is over.
bool tellsTime(const Landing& landing, const VerdictConfig& config) {
    return config.subject == Subject::slow && landing.riseTime && !landing.sentence.empty();
}

// Of a try that is good but for its haste.
std::string hurriedSentence(const Landing& landing) {
    return fmt::format("There in {:.1f} s. Take three full seconds, or more.", landing.riseTime->value);
}

std::string tookSentence(const Landing& landing) { return fmt::format("Took {:.1f} s.", landing.riseTime->value); }

bool isGood(const Landing& landing, const VerdictConfig& config) {
    return landing.landingError && !landing.correction && landing.verdict <= Verdict::over
           && abs(saidError(landing, Cents(config.aim))) <= Cents(config.aim);
}

}  // namespace

bool isHurried(const Landing& landing, const VerdictConfig& config) {
    return landing.riseTime && landing.riseTime->value < config.slowLeast;
}

Held heldOf(const Landing& landing, const VerdictConfig& config) {
    if (holdFault(landing, config)) return Held::sank;
    return landing.holdLength && landing.holdLength->value < config.heldLeast ? Held::shortened : Held::stayed;
}

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

Cents saidError(const Landing& landing, Cents aim) {
    const Cents marked = markedError(landing), counts = landing.firstStopError.value_or(marked);
    return (abs(marked) <= aim) == (abs(counts) <= aim) ? marked : counts;
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

bool isClear(const Landing& landing, const VerdictConfig& config) {
    return !landing.landingError
           || std::abs(std::abs(saidError(landing, Cents(config.aim)).value) - config.aim) > config.unsure;
}

std::string firstWord(const Landing& landing, const VerdictConfig& config) {
    const bool banded = landing.verdict <= Verdict::over;
    if (!banded || !landing.landingError) {
        Landing said = landing;
        said.sentence.assign(1, '-');  // final, as far as its headline goes
        return wordsOf(said, config).headline;
    }
    const double error = saidError(landing, Cents(config.aim)).value;
    const std::string side = error < 0.0 ? "under" : "over";
    if (!isClear(landing, config)) return fmt::format("just {}", side);
    return std::abs(error) <= config.aim ? "good" : side;
}

namespace {

Words landedWords(const Landing& landing, const VerdictConfig& config) {
    if (landing.sentence.empty() && landing.landingError) return {firstWord(landing, config), ""};
    if (!landing.strings.empty()) {  // "D right, B 12 under"
        const auto end = landing.sentence.find(". ");
        if (end != std::string::npos) return {landing.sentence.substr(0, end), landing.sentence.substr(end + 2)};
        return {landing.sentence.substr(0, landing.sentence.rfind('.')), ""};
    }
    const auto error =
        landing.landingError ? std::optional(saidError(landing, Cents(config.aim))) : landing.firstStopError;
    const bool good = error && std::abs(error->value) <= config.aim && landing.verdict <= Verdict::over;
    if (const auto fault = holdFault(landing, config); good && fault) return {*fault, landing.sentence};
    if (config.subject == Subject::hold && isGood(landing, config)) return holdWords(landing, config);
    switch (landing.verdict) {
        case Verdict::deadOn:
            if (good || !error) break;
            [[fallthrough]];
        case Verdict::inTune:
        case Verdict::near:
        case Verdict::under:
        case Verdict::over: {
            if (!error) return {std::string(verdictName(Verdict::notMeasurable)), landing.sentence};
            const Words miss = missWords(landing, error->value);
            const bool plain = landing.sentence == fmt::format("{}: {}.", miss.headline, miss.rest);
            return {miss.headline, plain ? capitalised(miss.rest) + "." : landing.sentence};
        }
        case Verdict::otherInterval: {
            // As far as the landing tells where it started.
            const double start = 100.0 * landing.move.from.value + landing.startError.value_or(Cents(0.0)).value;
            if (landing.landingError) return {step(playedSteps(landing, start)), landing.sentence};
            break;
        }
        default: break;
    }
    return {std::string(verdictName(landing.verdict)), landing.sentence};
}

}  // namespace

Words wordsOf(const Landing& landing, const VerdictConfig& config) {
    Words words = landedWords(landing, config);
    if (!tellsTime(landing, config)) return words;
    if (!isGood(landing, config) || holdFault(landing, config)) {
        if (!words.rest.empty()) words.rest += ' ';
        words.rest += tookSentence(landing);
        return words;
    }
    if (isHurried(landing, config)) return {"hurried", hurriedSentence(landing)};
    return {fmt::format("took {:.1f} s", landing.riseTime->value), landing.sentence};
}

std::string completeSentence(const Landing& landing, const VerdictConfig& config) {
    const bool good = isGood(landing, config);
    if (config.subject == Subject::hold && good && heldOf(landing, config) == Held::shortened)
        return holdWords(landing, config).rest;
    if (!tellsTime(landing, config)) return landing.sentence;
    if (good && isHurried(landing, config)) return hurriedSentence(landing);
    return fmt::format("{} {}", tookSentence(landing), landing.sentence);
}

std::string notHeldYetSentence(const Move& asked) {
    if (!asked.with.empty()) {
        std::vector<std::string> notes;
        for (const Move& string : stringsOf(asked)) notes.push_back(noteName(string.to));
        return fmt::format("Hold {} together once, so that their pitches on this guitar are known.",
                           fmt::join(notes, "+"));
    }
    const long width = std::lround(asked.to.value - asked.frettedNote().value);
    return fmt::format("Hold {} once, so that its pitch on this guitar is known.",
                       asked.place ? fmt::format("fret {}", asked.place->fret + width) : noteName(asked.to));
}

std::string notMovedSentence(const Move& asked) {
    const char* did = asked.gesture == Gesture::bend ? "bend it" : asked.gesture == Gesture::slide ? "slide" : nullptr;
    if (!did) return {};
    const std::string picked = asked.place ? fmt::format("fret {}", asked.place->fret) : noteName(asked.from);
    return fmt::format("You picked {}. Now {}.", picked, did);
}

std::string notClearSentence(const Move& asked) {
    const char* did = asked.gesture == Gesture::bend ? "bend" : asked.gesture == Gesture::slide ? "slide" : "move";
    return fmt::format("The {} was not clear. Not counted.", did);
}

std::string notBegunSentence(const Move& asked, double heardCents, const VerdictConfig& config) {
    const bool preBend = asked.struckNote() != asked.from;
    const double off = heardCents - 100.0 * asked.struckNote().value;
    const auto miss = [&] { return fmt::format("{} {}", whole(off), off < 0.0 ? "under" : "over"); };
    if (preBend && std::abs(heardCents - 100.0 * asked.from.value) <= config.unbent)
        return "You picked before the bend. Bend first, then pick.";
    if (preBend && std::abs(off) <= config.bentNear)
        return fmt::format("You picked {} the bent note. Not counted.", miss());
    const std::string start = noteName(asked.from);
    if (std::abs(off) < 100.0 && 100.0 - std::abs(off) > config.mistuned)
        return fmt::format("That was {} {}. Is the string in tune?", miss(), start);
    // Gain mixes two strings to the pitch whose partials both are.
    const double partial = std::round(std::exp2(-off / 1200.0));
    if (partial >= 3.0 && std::abs(off + 1200.0 * std::log2(partial)) < config.mistuned)
        return "No clear pitch. Is another string ringing?";
    const std::string heard = noteName(MidiPitch(heardCents / 100.0));
    if (!asked.place || asked.struckNote() != asked.frettedNote())
        return fmt::format("That was {}. Start on {}.", heard, start);
    const int played = asked.place->fret + static_cast<int>(std::lround(off / 100.0));
    // A pitch that this string has not, or hardly any neck: another string, likely.
    if (played < 0 || played > config.lastFret)
        return fmt::format("That was {}. Play fret {}, {}.", heard, asked.place->fret, start);
    return fmt::format("That was {}. Play fret {}.", played == 0 ? "the open string" : fmt::format("fret {}", played),
                       asked.place->fret);
}

std::string besideSentence(MidiPitch note) {
    return fmt::format("{} rang beside it.", noteName(MidiPitch(std::round(note.value))));
}

std::string sentenceOf(const Landing& landing, double startCents, const VerdictConfig& config) {
    switch (landing.verdict) {
        case Verdict::notMeasurable: return "The pitch was not clear. Not counted.";
        case Verdict::twoStrings:
            return fmt::format("{} Not counted.",
                               landing.beside ? besideSentence(*landing.beside) : "Two strings rang.");
        case Verdict::died: return "The note died before it got there.";
        case Verdict::otherInterval:
            return fmt::format("That was {}, not {}.", step(playedSteps(landing, startCents)),
                               step(askedSteps(landing.move)));
        case Verdict::wrongFret: return fretSentence(landing);
        default: break;
    }
    const double error = saidError(landing, Cents(config.aim)).value, size = std::abs(error);
    if (landing.move.gesture == Gesture::vibrato) {
        if (size <= std::min(config.deadOn, config.aim)) return "Dead on at the bottom of the vibrato.";
        if (size <= std::min(config.inTune, config.aim))
            return fmt::format("In tune at the bottom of the vibrato, {} {}.", whole(error),
                               error < 0 ? "under" : "over");
        return fmt::format("The bottom of the vibrato was {} {}.", whole(error), error < 0 ? "under" : "over");
    }
    const double landed = landing.landingError->value;
    const bool good = size <= config.aim, overFrets = kindOf(landing.move.gesture).overFrets;
    const std::string place =
        size <= config.inTune ? "in tune" : fmt::format("{} {}", whole(error), error < 0.0 ? "under" : "over");
    // First stop.
    if (landing.correction) {
        const double onward = error * landing.move.direction();
        const char* where = onward == 0.0 ? (error < 0 ? "under" : "over") : onward > 0.0 ? "past" : "short";
        return std::abs(landed) < std::abs(error)
                   ? fmt::format("You {} {} {}, then corrected it.", onward > 0.0 ? "went" : "stopped", whole(error),
                                 where)
                   : fmt::format("You stopped {} {}, then moved to {} {}.", whole(error), error < 0 ? "under" : "over",
                                 whole(landed), landed < 0 ? "under" : "over");
    }
    if (good && landing.overshoot && overFrets && landing.overshoot->value >= 50.0) {
        const long frets = std::lround(landing.overshoot->value / 100.0);
        return fmt::format("You slid {} fret{} too far, then came back.", frets, frets == 1 ? "" : "s");
    }
    if (good && landing.overshoot && !overFrets && landing.overshoot->value >= config.overshootTold)
        return fmt::format("Overshot by {}, then settled {}.", whole(landing.overshoot->value), place);
    if (!good) return missSentence(landing, error, config);
    // Hold.
    if (const auto fault = holdFault(landing, config)) return fmt::format("Landed {}, then {}.", place, *fault);
    // Time.
    if (overFrets) {
        const double late = landing.linger ? landing.linger->value - config.lingerAllowed : 0.0;
        if (late >= config.lingerTold)
            return fmt::format("Right fret, but you left the first one {:.1f} s late.", late);
    }
    return size <= config.deadOn ? "Dead on, and it stayed." : missSentence(landing, error, config);
}

}  // namespace landfall
