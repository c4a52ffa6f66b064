// The list of drills as a player meets it: filters, choosing, taking a drill elsewhere on the neck. One thread, the
// trainer's; reads and writes no file.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "gui/intent.h"
#include "gui/snapshot.h"
#include "src/app/screens/wish.h"
#include "src/formats/drill_file.h"
#include "src/formats/phrase_file.h"
#include "src/music/guitar.h"

namespace landfall {

class DrillsScreen {
public:
    // Built-in drills first, then the player's own; the phrases behind them in the same order.
    DrillsScreen(const Guitar& guitar, OwnDrills own, OwnPhrases ownLines = {});

    Wish act(const Intent& intent);
    const DrillList& view() const { return list; }

    void setGuitar(const Guitar& given);
    void setOwn(OwnDrills own, OwnPhrases ownLines);
    // Said above the list until something else is.
    void say(std::string message);

    // The drill after this one, whatever the filters: for going on at a drill's end. After the last comes the first.
    DrillChosen after(const std::string& name) const;
    const std::vector<Drill>& all() const { return drills; }
    // The chosen one in the list; empty where it is a phrase, or no drill passes the filters.
    std::optional<Drill> chosen() const;
    void choose(const std::string& name);

private:
    struct Elsewhere {
        Drill drill;
        int string = 1, lowest = 0, highest = 0;
    };
    Wish actList(const Intent& intent);
    void refresh();
    void refreshElsewhere();
    bool passes(const Drill& drill) const;
    bool passes(const Line& line) const;
    const Line* chosenLine() const;
    std::string chosenName() const;
    Wish startChosen();
    DrillRow rowOf(const Drill& drill) const;
    DrillRow rowOf(const Line& line) const;
    void changeFilter(int by);
    void openElsewhere();
    void stepElsewhere(int by);
    void pickOnNeck(NeckPlace place);
    std::vector<int> fretsOn(const Drill& drill, int string) const;
    std::vector<int> stringsOf(const Drill& drill) const;
    Drill elsewhereDrill() const;
    std::optional<DrillChosen> start(Drill drill, bool changed);
    std::optional<DrillChosen> actElsewhere(const Intent& intent);

    Guitar guitar;
    std::vector<Drill> drills;
    std::vector<Line> lines;
    std::vector<std::size_t> shown;  // of `drills` and behind them of `lines`, in the list's order
    std::string warnedOf;            // the phrase whose hard bends the player has just read of
    std::optional<Gesture> gesture;  // the filters; empty: every
    std::optional<int> string;
    std::optional<Elsewhere> elsewhere;
    int elsewhereRow = 0;
    DrillList list;
};

}  // namespace landfall
