// What a terminal says of tries, once they are in the log. One thread, the analysis thread.
#pragma once

#include <deque>
#include <string>

#include <fmt/core.h>

#include "src/store/store_writer.h"

namespace landfall {

// Lines in the order in which they came, each once the tries before it are on the disk: who is told of a try finds it
// in the log, whatever ends the program then. Where the log cannot be written that has been said, and lines wait no
// longer.
class SafeLines {
public:
    explicit SafeLines(const StoreWriter& writer) : log(writer) {}

    void say(std::string line) {
        waiting.push_back({log.state().tries, std::move(line)});
        go();
    }
    void go() {
        if (waiting.empty()) return;
        const StoreWriter::State state = log.state();
        for (; !waiting.empty() && (waiting.front().tries <= state.safe || !state.problem.empty()); waiting.pop_front())
            fmt::print("{}\n", waiting.front().text);
    }

private:
    struct Line {
        int tries = 0;  // handed to the log by then
        std::string text;
    };
    const StoreWriter& log;
    std::deque<Line> waiting;
};

}  // namespace landfall
