#include "src/app/frame_record.h"

#include <chrono>

#include <fmt/core.h>

namespace landfall {

Result<FrameRecord> FrameRecord::create(const std::filesystem::path& file) {
    std::FILE* opened = std::fopen(file.c_str(), "we");
    if (!opened)
        return Error{Error::Code::unwritable,
                     file.string() + ": the words of the frames cannot be written there: is the folder there?"};
    return FrameRecord(opened);
}

void FrameRecord::add(const Drawn& drawn) {
    std::string words = fmt::format("\t{}", drawn.lines);
    for (const DrawnText& text : drawn.texts) words += "\t" + text.text;
    if (words == last) return;
    const double now = std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
    fmt::print(out.get(), "{:.4f}{}\n", now, words);
    std::fflush(out.get());
    last = std::move(words);
}

}  // namespace landfall
