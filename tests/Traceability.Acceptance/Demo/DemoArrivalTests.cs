using Traceability.Simulator.Posting;

namespace Traceability.Acceptance.Demo;

/// <summary>The same facts, however they arrive, give the same judgements.</summary>
public sealed class DemoArrivalTests
{
    private const int Finals = 60;

    [Fact]
    public async Task Facts_posted_in_order_shuffled_doubled_and_in_other_batches_give_the_same_judgements()
    {
        var plant = DemoFixture.Plant(Finals);
        await using var inOrder = await DemoHost.StartAsync(plant, new PostOptions());
        var expected = await inOrder.DerivedRowsAsync();
        Assert.NotEmpty(expected);

        PostOptions[] ways =
        [
            new() { ShuffleSeed = 1, DuplicatesInTenThousand = 3_000 },
            new() { Batch = 7, Connections = 3 },
        ];
        foreach (var way in ways)
        {
            await using var other = await DemoHost.StartAsync(plant, way);
            Assert.Empty(other.Report.Refused);
            var found = await other.DerivedRowsAsync();
            var differences = expected.Except(found, StringComparer.Ordinal).Take(10).Select(r => $"only in order: {r}")
                .Concat(found.Except(expected, StringComparer.Ordinal).Take(10).Select(r => $"only {way}: {r}")).ToArray();
            Assert.True(differences.Length == 0, string.Join('\n', differences));
        }
    }
}
