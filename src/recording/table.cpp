#include "recording/table.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstring>

#include "base/input_error.h"
#include "recording/row_parser.h"

namespace evenbeam::recording {
namespace {

// One buffer that stays in the second-level cache: measured faster than mapping the file, whose pages fault one by
// one.
constexpr std::size_t kBufferBytes = 256 * 1024;
constexpr std::size_t kHeadBytes = 64 * 1024;

// A buffer that is refilled behind what was not yet used.
class Window {
 public:
  explicit Window(const base::ByteSource& source) : source_(source), buffer_(kBufferBytes) { refill(0); }
  std::string_view text() const { return {buffer_.data(), size_}; }
  bool at_end() const { return at_end_; }
  std::size_t total() const { return total_; }
  // Drops the first `used` bytes and reads on.
  void refill(std::size_t used) {
    std::memmove(buffer_.data(), buffer_.data() + used, size_ - used);
    size_ -= used;
    while (size_ < buffer_.size() && !at_end_) {
      const std::size_t got = source_(buffer_.data() + size_, buffer_.size() - size_);
      at_end_ = got == 0;
      size_ += got;
      total_ += got;
    }
  }

 private:
  const base::ByteSource& source_;
  std::vector<char> buffer_;
  std::size_t size_ = 0, total_ = 0;
  bool at_end_ = false;
};

// Whole lines of `text` up to its last line end.
std::size_t whole_lines(std::string_view text) {
  const std::size_t last = text.rfind('\n');
  return last == std::string_view::npos ? 0 : last + 1;
}

}  // namespace

long line_of_row(const Table& table, std::size_t row) {
  long line = table.layout.first_data_line + static_cast<long>(row);
  for (long blank : table.blank_lines)
    if (blank <= line) ++line;
  return line;
}

Table read_table(std::string_view bytes, const std::string& file, const StatedLayout& stated) {
  Table table;
  table.bytes = bytes.size();
  table.layout = find_layout(bytes.substr(0, kHeadBytes), bytes.size() <= kHeadBytes, file, stated);
  const std::string_view data = bytes.substr(table.layout.data_offset);
  RowParser rows(table, file, data.size());
  const std::size_t whole = whole_lines(data);
  if (whole > 0) rows.read(data.substr(0, whole));
  rows.read_last(data.substr(whole));
  rows.finish();
  return table;
}

Table read_table(const base::ByteSource& source, const std::string& file, const StatedLayout& stated,
                 std::size_t most_cells) {
  Table table;
  Window window(source);
  const std::string_view head = window.text().substr(0, kHeadBytes);
  table.layout = find_layout(head, window.at_end() && head.size() == window.text().size(), file, stated);
  RowParser rows(table, file, kBufferBytes, most_cells);
  std::size_t used = table.layout.data_offset;
  for (;;) {
    window.refill(used);
    used = whole_lines(window.text());
    if (used == 0) break;
    rows.read(window.text().substr(0, used));
  }
  if (!window.at_end())
    throw base::InputError(base::Trouble{file, 0, 0, fmt::format("a line longer than {} bytes", kBufferBytes),
                                         "rows of numbers", "Export the recording again as text, one row a sample."});
  rows.read_last(window.text());
  rows.finish();
  table.bytes = window.total();
  return table;
}

}  // namespace evenbeam::recording
