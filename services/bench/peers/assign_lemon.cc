// Solves a pairing round with LEMON's network simplex: assign_lemon ROWS.csv
//
// Prints the milliseconds of the solver alone and what the pairing is worth. Every
// boat sends one unit to an applicant or straight to the end.
#include <lemon/network_simplex.h>
#include <lemon/smart_graph.h>

#include <algorithm>
#include <chrono>
#include <fstream>
#include <iostream>
#include <sstream>
#include <string>
#include <unordered_map>
#include <vector>

int main(int, char** argv) {
  std::ifstream in(argv[1]);
  std::string line, boat, applicant, field;
  std::getline(in, line);
  std::unordered_map<std::string, int> boats, applicants;
  struct Row { int b, a; long long weight, tier; };
  std::vector<Row> rows;
  long long heaviest = 0, tiers = 0;
  while (std::getline(in, line)) {
    std::istringstream fields(line);
    std::getline(fields, boat, ',');
    std::getline(fields, applicant, ',');
    Row r;
    r.b = boats.emplace(boat, boats.size()).first->second;
    r.a = applicants.emplace(applicant, applicants.size()).first->second;
    std::getline(fields, field, ',');
    r.weight = std::stoll(field);
    std::getline(fields, field, ',');
    r.tier = std::stoll(field);
    heaviest = std::max(heaviest, r.weight);
    tiers = std::max(tiers, r.tier);
    rows.push_back(r);
  }
  const int n = boats.size(), m = applicants.size();
  const long long step = std::min(n, m) * heaviest + 1;

  lemon::SmartDigraph g;
  g.reserveNode(n + m + 1);
  g.reserveArc(rows.size() + n + m);
  std::vector<lemon::SmartDigraph::Node> b(n), a(m);
  for (auto& x : b) x = g.addNode();
  for (auto& x : a) x = g.addNode();
  auto end = g.addNode();
  for (const auto& r : rows) g.addArc(b[r.b], a[r.a]);
  for (auto& x : b) g.addArc(x, end);
  for (auto& x : a) g.addArc(x, end);

  lemon::SmartDigraph::ArcMap<long long> capacity(g, 1), cost(g, 0);
  for (size_t i = 0; i < rows.size(); i++)
    cost[g.arcFromId(i)] = -(rows[i].weight + (tiers + 1 - rows[i].tier) * step);
  lemon::SmartDigraph::NodeMap<long long> supply(g, 0);
  for (auto& x : b) supply[x] = 1;
  supply[end] = -n;

  lemon::NetworkSimplex<lemon::SmartDigraph, long long, long long> simplex(g);
  simplex.upperMap(capacity).costMap(cost).supplyMap(supply);
  auto start = std::chrono::steady_clock::now();
  auto how = simplex.run();
  std::chrono::duration<double, std::milli> took = std::chrono::steady_clock::now() - start;
  if (how != simplex.OPTIMAL) return 1;
  std::cout << took.count() << " " << -simplex.totalCost<long long>() << std::endl;
}
