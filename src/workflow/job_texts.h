#pragma once
// The files of a job that a person writes, to be read and changed from the page: each change is checked by the reader
// that the job itself uses, written atomically, and refused where the file is no longer the one that was seen. What
// is kept is the text as given: comments, order and blanks stay.
#include <string>
#include <vector>

#include "base/files.h"
#include "workflow/job.h"

namespace evenbeam::workflow {

struct JobText {
  std::string name;     // "machine.toml"
  std::string content;  // empty where the file is not there
  std::string sha256;   // of the content
  bool there = false;
};

const std::vector<std::string>& job_text_names();
// InputError where `name` is none of these.
JobText job_text(const base::Disk& disk, const Places& places, const std::string& name);

struct KeptText {
  bool kept = false;  // false: the file has changed since `seen_sha256`; nothing was written
  JobText now;
};
// InputError with every trouble of the new text; then nothing is written either.
KeptText keep_job_text(base::Disk& disk, const Places& places, const std::string& name, const std::string& content,
                       const std::string& seen_sha256);

}  // namespace evenbeam::workflow
