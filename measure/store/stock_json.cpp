#include "measure/store/stock_json.h"

#include "calib/file/versioned_json.h"

namespace measure {
namespace {

using calib::finite_or_null;
using calib::Json;

Json json_of(const StockAtScale& at) {
  Json candidates = Json::array();
  for (const StockCandidate& candidate : at.answer.candidates) {
    candidates.push_back({{"size", candidate.text},
                          {"size_mm", candidate.size_mm},
                          {"materials", candidate.materials},
                          {"probability", candidate.probability},
                          {"apart", finite_or_null(candidate.apart)}});
  }
  return {{"scale", at.result.scale},
          {"value_mm", at.result.value},
          {"u_mm", at.result.u},
          {"effective_dof", finite_or_null(at.result.effective_dof)},
          {"none_of_these", at.answer.none_of_these},
          {"sentence", at.answer.sentence},
          {"candidates", std::move(candidates)}};
}

}  // namespace

std::string stock_json(const std::string& dimension, StockKind kind, const std::string& material,
                       const std::string& table, const std::vector<StockAtScale>& answers,
                       const std::vector<std::string>& warnings) {
  Json json = {{"dimension", dimension},
               {"kind", stock_word(kind)},
               {"material", material.empty() ? Json() : Json(material)},
               {"table", table},
               {"answers", Json::array()},
               {"warnings", warnings}};
  for (const StockAtScale& at : answers) {
    json["answers"].push_back(json_of(at));
  }
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace measure
