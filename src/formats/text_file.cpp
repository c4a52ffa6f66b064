#include "src/formats/text_file.h"

#include <algorithm>
#include <fstream>
#include <iterator>
#include <system_error>

#include <fmt/core.h>

namespace landfall {

Result<std::string> readTextFile(const std::filesystem::path& path, std::uintmax_t largest, std::string_view kind) {
    std::error_code code;
    const bool regular = std::filesystem::is_regular_file(path, code);
    if (!code && !regular)
        return Error{Error::Code::badInput, fmt::format("{}: is not a file; give the path of {}", path.string(), kind)};
    const auto size = std::filesystem::file_size(path, code);
    if (code)
        return Error{Error::Code::notFound,
                     fmt::format("{}: {}; give the path of {}", path.string(), code.message(), kind)};
    if (size > largest)
        return Error{Error::Code::badInput,
                     fmt::format("{}: {} bytes are more than {} has; at most {}", path.string(), size, kind, largest)};
    std::ifstream file(path, std::ios::binary);
    std::string text(std::istreambuf_iterator<char>(file), {});
    if (!file.is_open() || file.bad())
        return Error{Error::Code::unreadable,
                     fmt::format("{}: cannot be read; check that it is a file and its permissions", path.string())};
    return text;
}

std::vector<std::filesystem::path> filesIn(const std::filesystem::path& folder, std::string_view extension,
                                           std::vector<std::string>& problems) {
    std::error_code code;
    std::vector<std::filesystem::path> files;
    for (const auto& entry : std::filesystem::directory_iterator(folder, code))
        if (entry.path().extension() == extension) files.push_back(entry.path());
    if (code && code != std::errc::no_such_file_or_directory)
        problems.push_back(fmt::format("{}: {}; allow reading the folder", printable(folder.string()), code.message()));
    std::sort(files.begin(), files.end());
    return files;
}

}  // namespace landfall
