// What the Practice screen shows, from what the Listener tells and what the drill asks: moments, traces, marks, words.
// Pure logic; the time is the drill's, seconds of sound heard. One thread, the analysis thread.
#pragma once

#include <deque>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "gui/snapshot.h"
#include "src/formats/settings_file.h"
#include "src/music/drill.h"
#include "src/practice/drill_runner.h"
#include "src/practice/drill_summary.h"
#include "src/practice/listener_event.h"

namespace landfall {

class PracticeScreen {
public:
    struct Config {
        Drill drill;
        Guitar guitar;
        Cents aim{25.0};
        Telling telling = Telling::everyTry;
        Tracing tracing = Tracing::afterTry;
        std::string seeKey = "S";
        double landedFor = 2.0;  // s that a mark keeps the big line without another stroke
        int few = 3;             // tries shown together by everyFew
    };

    explicit PracticeScreen(Config given);

    // Each event, while the drill still asks what it asked when the sound was played ...
    void hear(const ListenerEvent& event);
    // ... and then what it asks now.
    void follow(const DrillState& state, Seconds now);
    // The drill cannot be played: why, in one line.
    void refuse(const std::string& why);
    // The drill is over.
    void finish(const DrillSummary& summary, Seconds now, std::vector<EndRow> places = {});
    void see();
    // Whether the last try is still to be guessed by ear, and what to say once it has been.
    bool guesses() const { return shown.guessing; }
    void guessed(const std::string& answer);
    void tell(Telling telling, Tracing tracing);
    // Back to what is asked, without the last mark.
    void again();

    const Practice& practice() const { return shown; }
    // Grows with every change of practice().
    unsigned long version() const { return changes; }

private:
    // shown, or held back until there are enough, or until the player chooses to see
    enum class Kept { shown, forNow, byEar };
    // What was played from one stroke on.
    struct Line {
        int note = 0, tryNumber = 0;  // as the Listener counts them; no try: 0
        Seconds onset;
        Trace trace;  // has marks once the try, or its first step, was judged
        bool over = false;
        bool live = false;  // drawn while it is played
        Kept kept = Kept::shown;
    };
    struct Mark {
        int tryNumber = 0;
        TryMark mark;
        Kept kept = Kept::shown;
    };
    struct Point {
        Seconds at;
        std::optional<Cents> fromTarget;
    };

    void stroke(const PickStroke& stroke);
    void pitch(const LivePitch& live);
    void strings(const LiveStrings& live);
    void began(const TryBegan& began);
    void landed(const Landing& landing);
    void remember(const Landing& landing, bool final);
    void say(bool final);
    void ask(std::size_t step);
    void ended(const TryEnded& ended);
    void struck(const TryStruck& struck);
    void noodled(const Noodling& noodling);
    void tellWhy(const std::string& sentence);
    void wait();
    void askFor(const DrillState& state, bool otherTry);
    void goThrough(const DrillState& state, bool moved, bool wasWaiting, Seconds now);
    void sayEnd();
    void reveal(bool byEarToo);
    void collect();
    Line& lineOf(int note, int tryNumber, Seconds onset);
    void add(Line& line, const Point& point);
    Kept keeping() const;
    bool liveNow() const;

    template <typename T, typename U>
    void put(T& field, U&& value) {
        if (field == value) return;
        field = std::forward<U>(value);
        ++changes;
    }

    Config config;
    Practice shown;
    unsigned long changes = 1;
    DrillState asked;
    bool known = false;                // `asked` was given
    std::optional<NeckPlace> drawnAt;  // where the lines were played
    std::deque<Line> lines;            // of the move asked, the newest last
    std::vector<Mark> marks;
    std::deque<Point> recent;       // the last moments, for a stroke that is known only after it was played
    bool liveShown = false;         // the last trace shown is the one being played
    std::vector<Landing> lastTry;   // its steps so far; a sentence is kept back until it is final
    std::optional<Seconds> saidAt;  // when the mark that has the big line was complete
    std::optional<DrillSummary> summary;
    Seconds clock;
};

}  // namespace landfall
