// The window's practice of a line: which one is asked, played, waits or is over, and what the screen shows of it. No
// thread of its own: the trainer's.
#pragma once

#include <memory>
#include <optional>
#include <span>
#include <utility>

#include "gui/intent.h"
#include "src/app/input_desk.h"
#include "src/app/line_play.h"
#include "src/app/sitting_keeper.h"
#include "src/app/stones_screen.h"

namespace landfall {

class LineDesk {
public:
    // All must live longer.
    LineDesk(const Settings& inUse, InputDesk& inputDesk, SittingKeeper& keeper)
        : settings(inUse), input(inputDesk), sittings(keeper) {}

    struct Goals {
        std::optional<double> tempo{};  // quarters a minute; empty: the player's own
        std::optional<Cents> aim{};     // empty: the settings'
        int enough = 0;                 // so many passes of the whole, or four minutes, are enough; 0: there is no end
    };
    // This line from now on, as soon as the practice screen is open and the input has a rate.
    void ask(Line next) { ask(std::move(next), {}); }
    void ask(Line next, Goals asked);
    // A line is asked, and no drill.
    bool asked() const { return line.has_value(); }
    // The same line once more, from its start.
    void askAgain() { wanted = asked(); }
    // again: from the start, or the whole after a part; next: only what failed; discard: the last pass.
    void act(Intent::Kind kind);
    // As PracticeDesk; a pass in progress ends where another screen opens.
    void hear(std::span<float> samples, std::uint64_t missing, bool open);
    void finish();
    void lead();
    // Enough of it was played, or care has ended it.
    bool over() const;
    int passes() const { return wholePasses; }
    // Ends it, so that its sitting may end; what it showed stays ...
    void leave();
    // ... or goes, and no line is asked any more.
    void clear();

    unsigned long version() const { return versionsBefore + (screen ? screen->version() : 0); }
    // What the practice screen shows; empty where no line is asked.
    std::optional<Stones> stones() const;

private:
    void begin();
    void askedAnew();
    void follow();
    LinePlay::Told tell();

    const Settings& settings;
    InputDesk& input;
    SittingKeeper& sittings;
    std::optional<Line> line;
    Goals goals;
    int wholePasses = 0;
    bool wanted = false, paused = false;
    std::unique_ptr<LinePlay> play;
    std::unique_ptr<StonesScreen> screen;
    unsigned long versionsBefore = 0;  // of earlier screens
};

}  // namespace landfall
