// A file of the fuzzer's own that holds the bytes of one input, for readers that take a path. One process.
#pragma once

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <span>
#include <string>

namespace landfall {

class ScratchFile {
public:
    explicit ScratchFile(const std::string& name) {
        std::string pattern = (std::filesystem::temp_directory_path() / "landfall-fuzz-XXXXXX").string();
        if (!mkdtemp(pattern.data())) std::abort();
        path = std::filesystem::path(pattern) / name;
    }
    ScratchFile(const ScratchFile&) = delete;
    ScratchFile& operator=(const ScratchFile&) = delete;
    ~ScratchFile() {
        std::error_code ignored;
        std::filesystem::remove_all(path.parent_path(), ignored);
    }
    void hold(std::span<const std::uint8_t> bytes) const {
        std::ofstream(path, std::ios::binary | std::ios::trunc)
            .write(reinterpret_cast<const char*>(bytes.data()), std::ssize(bytes));
    }

    std::filesystem::path path;
};

}  // namespace landfall
