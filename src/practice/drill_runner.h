// Leads a player through one drill: which place and move now, tries, rests and care. Pure logic; the caller gives
// landings and the time (any clock that only goes forwards). One thread.
#pragma once

#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "dsp/units.h"
#include "src/music/drill.h"
#include "src/practice/landing.h"
#include "src/practice/practice_care.h"

namespace landfall {

struct DrillRunnerConfig {
    Drill drill;
    Guitar guitar;
    Cents aim{25.0};
    bool firstMonth = true;   // of this student
    bool heavyAsked = false;  // two-step bends and full steps over 20 N were asked for
    SittingLoad load{};       // what this sitting has played before this drill
    CareLimits limits{};
};

enum class DrillPhase { warmUp, asking, resting, stringSlipped, done };

// All a terminal or a window needs to draw.
struct DrillState {
    DrillPhase phase = DrillPhase::asking;
    int set = 1, sets = 1;          // 1-based
    int attempt = 1, attempts = 6;  // within the set
    NeckPlace place;
    std::vector<Move> moves;  // what one try plays here: give these to the Listener
    Subject subject = Subject::landing;
    std::string prompt;      // "G string · fret 7 · full step"
    bool guided = false;     // the live trace is shown
    bool byEar = false;      // nothing is shown until the player chooses to see
    Seconds left;            // of the warm-up or the rest
    bool restStays = false;  // a rest that cannot be skipped: the minute off for the hand
    std::string message;     // one line where something is to be said: a string slipped, why the drill ended
};

class DrillRunner {
public:
    // Fails where no place of the drill can be played: on this guitar, or by the rules of care.
    static Result<DrillRunner> make(DrillRunnerConfig config, Seconds now);

    void landed(const Landing& landing, Seconds now);
    void tick(Seconds now);  // at least a few times a second: rests count down here
    // ends the warm-up or the rest early, leaves the rest of a set, or goes on with a string as it is
    void next(Seconds now);
    // While a string is being tuned, what shows that it is in tune again.
    static bool startsInTune(const Landing& landing);
    bool playedLast(int tryNumber) const;  // whether the last try is this one
    void discard();                        // strikes the last try: it is asked again
    void see() { current.byEar = false; }
    void stop();  // ends the drill now

    const DrillState& state() const { return current; }
    const SittingLoad& load() const { return config.load; }
    // Finished, and not struck.
    int tries() const { return static_cast<int>(played.size()); }
    // Places left out, one line each with the reason.
    const std::vector<std::string>& notes() const { return leftOut; }

private:
    struct Try {
        int set = 1;
        int number = 0;
        std::size_t steps = 0;  // behind it
    };

    DrillRunner(DrillRunnerConfig given, Seconds now) : config(std::move(given)), clock(now), lastEvent(now) {}
    void prepare();
    void ask(Seconds now);
    void beginRest(Seconds length);
    void closeTry(Seconds now);
    void endSet(Seconds now);
    void finish(std::string why);
    bool slipped(const Landing& first);

    DrillRunnerConfig config;
    std::vector<NeckPlace> setPlaces;  // one for each set
    std::vector<std::string> leftOut;
    DrillState current;
    std::vector<Try> played;
    std::optional<Try> open;  // a try whose later steps are still to come
    Seconds clock, lastEvent;
    Seconds drillTime;  // guitar in hand
    Seconds restTaken;
    std::map<int, std::vector<double>> starts;  // string -> start errors in cents, in a row off to one side
    std::map<int, Cents> accepted;              // string -> offset the player goes on with
    Cents slipOffset;                           // of the string that slipped last
};

}  // namespace landfall
