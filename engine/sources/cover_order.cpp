// Precedence of covers. Boost.Graph is heavy to compile, so it stays in this file.
#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/depth_first_search.hpp>
#include <boost/graph/topological_sort.hpp>

#include "sources/network_file.hpp"

namespace lostspark::sources {
namespace {

using Graph = boost::adjacency_list<boost::vecS, boost::vecS, boost::directedS>;

// Walks along `first` from a cover that lies on a circle until one repeats.
std::vector<std::size_t> walk_circle(const Graph& graph, std::size_t start) {
  std::vector<std::size_t> path;
  std::vector<int> seen(boost::num_vertices(graph), 0);
  struct Walker {
    const Graph& graph;
    std::vector<int>& seen;
    std::vector<std::size_t>& path;
    bool from(std::size_t v) {
      seen[v] = 1;
      path.push_back(v);
      for (auto [e, end] = boost::out_edges(v, graph); e != end; ++e) {
        const auto next = boost::target(*e, graph);
        if (seen[next] == 1) {
          path.erase(path.begin(), std::find(path.begin(), path.end(), next));
          return true;
        }
        if (seen[next] == 0 && from(next)) return true;
      }
      seen[v] = 2;
      path.pop_back();
      return false;
    }
  } walker{graph, seen, path};
  return walker.from(start) ? path : std::vector<std::size_t>{};
}

}  // namespace

std::vector<std::string> cover_circle(const std::vector<NetworkCover>& covers) {
  Graph graph(covers.size());
  for (std::size_t i = 0; i < covers.size(); ++i)
    for (const auto& before : covers[i].first)
      for (std::size_t j = 0; j < covers.size(); ++j)
        if (covers[j].id.text == before.text) boost::add_edge(i, j, graph);
  std::vector<std::size_t> order;
  try {
    boost::topological_sort(graph, std::back_inserter(order));
    return {};
  } catch (const boost::not_a_dag&) {
  }
  for (std::size_t start = 0; start < covers.size(); ++start) {
    const auto circle = walk_circle(graph, start);
    if (circle.empty()) continue;
    std::vector<std::string> ids;
    for (const auto v : circle) ids.push_back(covers[v].id.text);
    return ids;
  }
  return {};
}

}  // namespace lostspark::sources
