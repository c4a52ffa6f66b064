// For tests and for reports of faults: a file that tells what each frame of the window said. One thread, the window's.
#pragma once

#include <cstdio>
#include <filesystem>
#include <memory>
#include <string>

#include "gui/canvas.h"
#include "src/system/result.h"

namespace landfall {

// A line whenever the words or the number of traces differ from the frame before: seconds of the system's steady clock,
// number of traces drawn, then the words in the order drawn, all separated by tabs.
class FrameRecord {
public:
    static Result<FrameRecord> create(const std::filesystem::path& file);
    void add(const Drawn& drawn);

private:
    struct Close {
        void operator()(std::FILE* file) const { std::fclose(file); }
    };
    explicit FrameRecord(std::FILE* opened) : out(opened) {}

    std::unique_ptr<std::FILE, Close> out;
    std::string last;
};

}  // namespace landfall
