#include "gui/words.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include <fmt/core.h>

#include "src/practice/verdict.h"

namespace landfall {

bool stopsPractice(Trouble trouble) { return trouble <= Trouble::stringSlipped; }

TroubleWords troubleWords(const Notice& notice) {
    TroubleWords words = [&]() -> TroubleWords {
        switch (notice.trouble) {
            case Trouble::noDevice:
                return {"No sound input", "Plug in an interface, or press 6 and choose the simulated player."};
            case Trouble::deviceLost:
                return {"Input unplugged", "Plug it in again: practice goes on by itself. Every mark so far is kept."};
            case Trouble::noSignal:
                return {"No signal", "Check the cable, the guitar's volume knob and the input channel (press 6)."};
            case Trouble::tooQuiet: return {"Too quiet", "Turn up the guitar, then the interface's input gain."};
            case Trouble::roomTooLoud:
                return {"Room too loud", "The noise is nearly as loud as the strings: plug in, or silence the room."};
            case Trouble::stringSlipped:
                return {"String slipped", "Tune it, or press the key for next to go on as it is."};
            case Trouble::clipping: return {"Clipping", "Turn the interface's input gain down."};
            case Trouble::gateCutting:
                return {"Notes cut off", "Switch off any noise gate or noise cleaning before the input."};
            case Trouble::effectHeard: return {"Effect heard", "The marks are less sure. Dry is best."};
            case Trouble::targetUnheard:
                return {"Concert pitch counts", "Hold the target's fret once: then this guitar's own pitch counts."};
            case Trouble::logTrouble:
                return {"Log not written", "Marks are kept in memory; see the log's place in settings (press 4)."};
            case Trouble::noOutput:
                return {"No sound output",
                        "Target notes stay silent: choose another output in the settings (press 4)."};
            case Trouble::deviceBack: return {"Input is back", "Carry on where you were."};
            case Trouble::droppedSamples:
                return {"Sound was lost",
                        "The computer is busy: close other programs. Tries with gaps are not counted."};
            case Trouble::simulated: return {"Simulated player", "No sound input here: a simulated student plays."};
        }
        return {};
    }();
    if (!notice.detail.empty()) words.remedy = notice.detail;
    return words;
}

namespace {

// The number that the sentence says too.
std::optional<Cents> markedCents(const Landing& landing) {
    return landing.landingError ? markedError(landing) : landing.firstStopError;
}

}  // namespace

Words wordsOf(const std::vector<Landing>& steps) {
    if (steps.size() == 1) return wordsOf(steps.front());
    Words words;
    for (const Landing& step : steps) {
        words.headline += (words.headline.empty() ? "" : ", then ") + wordsOf(step).headline;
        if (step.sentence.empty()) continue;
        words.rest += words.rest.empty() ? step.sentence
                                         : fmt::format(" Then the {}: {}", gestureName(step.move.gesture),
                                                       uncapitalised(step.sentence));
    }
    return words;
}

TryMark markOf(const Landing& landing) {
    TryMark mark{landing.verdict, markedCents(landing), std::nullopt, std::max(0, landing.moveNumber - 1)};
    if (landing.landingTime) mark.arrival = *landing.landingTime - landing.onset;
    return mark;
}

Neck neckOf(const Guitar& guitar) {
    Neck neck;
    neck.strings = guitar.stringCount();
    neck.highestFret = guitar.highestFret;
    neck.capo = guitar.capo;
    neck.leftHanded = guitar.leftHanded;
    for (int string = 1; string <= guitar.stringCount(); ++string)
        neck.stringNames.push_back(stringNames(guitar, string).brief);
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
