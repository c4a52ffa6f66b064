// The window's practice: which drill is asked, played, waits or is over, and what the practice screen shows of it. No
// thread of its own: the trainer's.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "gui/intent.h"
#include "src/app/drill_play.h"
#include "src/app/input_desk.h"
#include "src/app/practice_screen.h"
#include "src/app/sitting_keeper.h"
#include "src/formats/settings_file.h"

namespace landfall {

class PracticeDesk {
public:
    struct Config {
        Drill drill;                                     // to begin with
        bool heavy = false;                              // the command line asks for what is hard on the hand, too
        bool keepTakes = false;                          // besides what the settings say
        std::function<Drill(const std::string&)> after;  // the drill that follows the one of this name
    };
    // The rest must live longer.
    PracticeDesk(Config config, const Settings& settings, InputDesk& input, SittingKeeper& sittings);

    // This drill next, as soon as the practice screen is open and the input has a rate.
    void ask(Drill drill, bool heavyAsked, std::optional<Cents> aimAsked = {});  // empty: the settings' aim
    // The same drill once more, from its start.
    void askAgain() { wanted = true; }
    // What the player asks for while practising: again, next, discard, see, guesses by ear.
    void act(Intent::Kind kind);
    // What the input gave; `samples` are quantised in place. While it is not `open` and a try would be asked for, or
    // while the input is away, the drill hears nothing: its clock is the sound, so it waits.
    void hear(std::span<float> samples, std::uint64_t missing, bool open);
    // The input is over.
    void finish();
    // What is asked goes to the input: the simulated student plays it, the target note sounds. To be called after
    // hear().
    void lead();
    // Ends the drill, so that its sitting may end; what it showed stays ...
    void leave();
    // ... or goes.
    void clear();
    // The settings say how to tell of a try, and whether target notes sound.
    void followSettings();

    bool waits() const { return wanted; }  // to begin
    // It is over, or cannot be played.
    bool over() const;
    struct End {
        std::string drill;
        DrillSummary summary{};
        std::string why{};  // nothing of it could be played
    };
    End end() const;  // of one that is over

    // Grows with every change of practice().
    unsigned long version() const { return versionsBefore + (screen ? screen->version() : 0); }
    Practice practice() const { return screen ? screen->practice() : Practice{}; }
    // A string that has slipped, in one line; else empty. And a take that could not be kept.
    std::string slipped() const;
    const std::string& takeTrouble();
    // What a player should know of the target asked now, in one line; mostly empty.
    std::string targetRemark() const;
    // Why results are not spoken although they should be; else empty.
    std::string speechTrouble() const { return speaker ? speaker->trouble() : ""; }
    // Of the player's strings, as known now; the simulated student's are its own.
    const std::vector<double>& stiffnessKnown() const { return stiffness; }

private:
    void guess(Guess said);
    void begin();
    void beginNext();
    OwnFrets ownFrets(const Guitar& guitar) const;
    void drop();
    void follow(Seconds after = {});
    void hear(const ListenerEvent& event);

    Config config;
    const Settings& settings;
    InputDesk& input;
    SittingKeeper& sittings;
    Drill drill;
    bool heavy = false;        // asked for with this drill
    std::optional<Cents> aim;  // the same
    std::string refused;       // why the drill asked last cannot be played
    bool wanted = true;        // begins as soon as it can
    bool paused = false;
    bool summed = false;    // the end of the drill has been told to the screen
    DrillSummary lastTime;  // of the drill being played
    std::unique_ptr<DrillPlay> play;
    std::unique_ptr<PracticeScreen> screen;
    unsigned long versionsBefore = 0;  // of earlier screens
    std::vector<double> stiffness;
    struct HeardFrets {
        Guitar guitar{};
        bool simulated = false;
        OwnFrets frets{};
    } heardFrets;
    std::string trouble;
    std::shared_ptr<SpeechService> speaker;  // once results are to be spoken
    void soundAsSet(DrillPlay& of);
};

}  // namespace landfall
