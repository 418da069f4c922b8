using Traceability.Contracts.SharedFactors;
using Traceability.Simulator.Plant;
using Traceability.Simulator.Posting;

namespace Traceability.Acceptance.Demo;

/// <summary>Where nothing is bad, the search for shared factors finds nothing, as often as it says.</summary>
public sealed class DemoWithoutCauseTests
{
    private const int Finals = 80;
    private const int DrawsASeed = 15;
    private const double ErrorRate = 0.05;

    // A right search fails this test once in a thousand runs of other seeds.
    private const double Doubt = 0.001;

    private static readonly DateTimeOffset Stopped = new(2026, 3, 20, 14, 10, 0, TimeSpan.Zero);

    [Fact]
    public async Task False_alarms_stay_within_the_stated_error_rate_over_several_seeds()
    {
        var (searches, alarms) = (0, new List<string>());
        foreach (var seed in new ulong[] { 31, 32, 33, 34 })
        {
            await using var demo = await DemoHost.StartAsync(DemoPlant.Build(seed, Finals, Stopped, hasCauses: false), new PostOptions());

            // What failed by chance alone: a scratch.
            await SearchAsync(demo, $"seed {seed}, scratched", new { failure = new { item = "FP-2", step = "FINAL-QC", rule = "LOOKS" } });
            var ended = demo.Answers.Units.Keys.Where(u => u.StartsWith("FP-2/", StringComparison.Ordinal) && demo.Answers.Units[u].EndedDay is not null).ToArray();
            for (var draw = 0; draw < DrawsASeed; draw++)
            {
                var units = Draw(ended, seed * 1_000 + (ulong)draw).Select(u => new { item = u.Split('/')[0], serial = u.Split('/')[1] }).ToArray();
                await SearchAsync(demo, $"seed {seed}, draw {draw}", new { units });
            }
        }

        // The least count that so many searches would reach with at most that doubt.
        var bound = Enumerable.Range(0, searches + 1).First(k => AtLeast(k, searches, ErrorRate) <= Doubt);
        Assert.True(alarms.Count < bound, $"{alarms.Count} false alarms in {searches} searches; fewer than {bound} were to be expected:\n{string.Join('\n', alarms)}");

        async Task SearchAsync(DemoHost demo, string name, object question)
        {
            var found = await demo.AskAsync<SharedFactorFound>("/api/shared-factors", question);
            Assert.True(found.Failed > 2 && found.Compared > 20 && found.Tried > 20, $"{name}: {found.Failed} failed, {found.Compared} compared, {found.Tried} tried.");
            Assert.Equal(ErrorRate, found.ErrorRate);
            searches++;
            alarms.AddRange(found.Groups.Where(g => g.IsSignificant).Take(1).Select(g => $"{name}: {g.P:G3} {string.Join(", ", g.Factors.Select(f => f.Name))}"));
        }
    }

    /// <summary>The bound against published and hand-worked values.</summary>
    [Theory]
    [InlineData(1, 1, 0.05, 0.05)]
    [InlineData(2, 2, 0.5, 0.25)]
    [InlineData(8, 10, 0.5, 0.0546875)] // 56 of 1,024: sign test, NIST/SEMATECH e-Handbook, section 1.3.6.6.18 (binomial distribution)
    [InlineData(0, 7, 0.3, 1)]
    public void The_binomial_tail_is_exact(int least, int of, double share, double tail) => Assert.Equal(tail, AtLeast(least, of, share), 1e-12);

    // Exact binomial tail, as in the interval of C. J. Clopper and E. S. Pearson, Biometrika 26 (1934).
    private static double AtLeast(int least, int of, double share)
    {
        var tail = 0.0;
        for (var k = least; k <= of; k++)
        {
            var term = 1.0;
            for (var i = 0; i < k; i++)
            {
                term *= (of - i) / (double)(k - i) * share;
            }

            tail += term * Math.Pow(1 - share, of - k);
        }

        return tail;
    }

    // One in six, by a hash of the name: nothing that happened to a unit has a part in it.
    private static IEnumerable<string> Draw(string[] of, ulong seed) => of
        .OrderBy(u => Convert.ToHexString(System.Security.Cryptography.SHA256.HashData(System.Text.Encoding.UTF8.GetBytes($"{seed}/{u}"))), StringComparer.Ordinal)
        .Take(of.Length / 6);
}
