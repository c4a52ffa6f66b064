#include "gui/words.h"

#include <algorithm>
#include <cmath>
#include <span>
#include <utility>

#include <fmt/core.h>

#include "src/practice/tally.h"
#include "src/practice/verdict.h"

namespace landfall {

bool stopsPractice(Trouble trouble) { return trouble <= Trouble::stringSlipped; }

TroubleWords troubleWords(const Notice& notice) {
    TroubleWords words = [&]() -> TroubleWords {
        switch (notice.trouble) {
            case Trouble::noDevice:
                return {"No sound input", "Plug in an interface, or press 6 and choose the simulated player."};
            case Trouble::deviceLost:
                return {"Input unplugged", "Plug it back in and practice goes on by itself. Nothing is lost."};
            case Trouble::noSignal:
                return {"No signal", "Check the cable, the guitar's volume knob and the input channel (press 6)."};
            case Trouble::tooQuiet:
                return {"Too quiet", "Turn up the guitar first, then the input gain on your interface."};
            case Trouble::roomTooLoud:
                return {"Room too loud",
                        "The noise is nearly as loud as your strings. Plug in, or find a quieter room."};
            case Trouble::stringSlipped: return {"String slipped", "Tune it, or go on as it is with the key for next."};
            case Trouble::clipping: return {"Clipping", "Turn down the input gain on your interface."};
            case Trouble::gateCutting:
                return {"Notes cut off", "Switch off any noise gate or noise reduction on the way in."};
            case Trouble::effectHeard: return {"Effect heard", "Marks are less certain. Play dry if you can."};
            case Trouble::targetUnheard:
                return {"Using concert pitch", "Hold the target fret once, so that its pitch on this guitar is known."};
            case Trouble::logTrouble:
                return {"Log not written",
                        "Your tries are kept in memory for now. See where the log is, in the settings (press 4)."};
            case Trouble::settingsOdd:
                return {"Settings file", "Something in it is not understood. Change it in the settings (press 4)."};
            case Trouble::noOutput:
                return {"No sound output",
                        "You will hear no target notes. Choose another output in the settings (press 4)."};
            case Trouble::noSpeech:
                return {"Not spoken", "Install speech-dispatcher, or let results sound as tones (press 4)."};
            case Trouble::deviceBack: return {"Input is back", "Carry on where you were."};
            case Trouble::droppedSamples: return {"Sound was lost", "The computer is too busy. Close other programs."};
            case Trouble::simulated:
                return {"Simulated player", "There is no sound input, so a simulated student plays."};
        }
        return {};
    }();
    if (!notice.detail.empty()) words.remedy = notice.detail;
    return words;
}

namespace {

// The number that the sentence says too.
std::optional<Cents> markedCents(const Landing& landing, Cents aim) {
    return landing.landingError ? saidError(landing, aim) : landing.firstStopError;
}

}  // namespace

bool isReleased(const std::vector<Landing>& steps, Subject subject) {
    return subject == Subject::release && !steps.empty() && steps.back().move.gesture == Gesture::release;
}

Words wordsOf(const std::vector<Landing>& steps, Cents aim, Subject subject) {
    const VerdictConfig config{.aim = aim.value, .subject = subject};
    const Landing& last = steps.back();
    const bool released = isReleased(steps, subject);
    if (steps.size() == 1) {
        // The number of a drill about the release is the release's, which is still to come.
        const bool wayThere = subject == Subject::release && !released && last.landingError;
        return wayThere ? Words{firstWord(last, config), last.sentence} : wordsOf(last, config);
    }
    Words words = released ? wordsOf(last, config) : Words{};
    for (const Landing& step : std::span(steps).first(steps.size() - (released ? 1 : 0))) {
        const std::string headline = wordsOf(step, config).headline;
        const std::string_view name = gestureName(step.move.gesture);
        if (!released) words.headline += (words.headline.empty() ? "" : ", then ") + headline;
        if (step.sentence.empty()) continue;
        words.rest += words.rest.empty() ? step.sentence
                      : released         ? fmt::format(" The {} before it: {}.", name, headline)
                                         : fmt::format(" Then the {}: {}", name, uncapitalised(step.sentence));
    }
    return words;
}

TryMark markOf(const Landing& landing, Cents aim, Subject subject) {
    TryMark mark{landing.verdict, markedCents(landing, aim), std::nullopt, std::max(0, landing.moveNumber - 1),
                 isGood(landing, aim, subject == Subject::hold ? subject : Subject::landing)};
    if (landing.landingTime) mark.arrival = *landing.landingTime - landing.onset;
    if (!mark.inside && isInside(landing, aim)) {  // the hold's fault: marked where it was lost
        if (heldOf(landing) == Held::sank) mark.firstStop = *landing.landingError - *landing.sag;
        else mark.verdict = Verdict::died;
        if (mark.arrival && landing.holdLength) mark.arrival = *mark.arrival + *landing.holdLength;
    }
    return mark;
}

Neck neckOf(const Guitar& guitar) {
    Neck neck;
    neck.strings = guitar.stringCount();
    neck.highestFret = guitar.highestFret;
    neck.capo = guitar.capo;
    neck.leftHanded = guitar.leftHanded;
    neck.stringNames = briefNames(guitar);
    return neck;
}

LevelWord levelWord(const Input& input) {
    if (input.device.empty() || input.level.value <= -60.0) return LevelWord::none;  // nobody plays
    if (input.clipping) return LevelWord::clipping;
    // A plucked string peaks about 20 dB over the level its hold is measured at; below -40 dBFS that hold nears the
    // noise of a common interface (from memory; the learned noise floor of the tracker decides in the end).
    return input.level.value < -40.0 ? LevelWord::tooQuiet : LevelWord::fine;
}

}  // namespace landfall
