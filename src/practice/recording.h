// A recording to be marked: the moves asked are played in their order, once, some of them maybe not at all. Tries are
// told when the input is over. One thread, the analysis thread.
#pragma once

#include "src/practice/try_maker.h"

namespace landfall {

class Recording : public TryMaker {
public:
    using TryMaker::TryMaker;

    void begin() override;
    void finish() override;
    std::size_t next() const override { return over ? moves().size() : 0; }

private:
    void noteBegan() override { left = false; }
    void noteEnded(Note note, bool rings) override;

    std::vector<Note> heard;
    bool left = false;  // what sounds was not played for these moves
    bool over = false;
};

}  // namespace landfall
