using Traceability.Simulator.Plant;
using Xunit;

namespace Traceability.Simulator.Tests;

public sealed class SplitMixTests
{
    [Fact]
    public void The_generator_gives_the_published_numbers()
    {
        // Rosetta Code, "Pseudo-random numbers/Splitmix64", first five values of seed 1234567.
        var random = new SplitMix(1234567);
        ulong[] expected = [6457827717110365317, 3203168211198807973, 9817491932198370423, 4593380528125082431, 16408922859458223821];
        Assert.All(expected, value => Assert.Equal(value, random.Next()));
    }

    [Fact]
    public void An_id_has_the_form_of_a_random_uuid()
    {
        // RFC 9562, section 5.4: version 4 in the high bits of octet 6, variant 10 in those of octet 8.
        var random = new SplitMix(1);
        for (var i = 0; i < 100; i++)
        {
            var text = random.Id().ToString();
            Assert.Equal('4', text[14]);
            Assert.Contains(text[19], "89ab");
        }
    }

    [Fact]
    public void A_bell_shaped_value_has_its_mean_and_deviation()
    {
        var random = new SplitMix(5);
        var values = Enumerable.Range(0, 20_000).Select(_ => (double)random.Bell(10m, 2m, 6)).ToList();
        var mean = values.Average();
        var deviation = Math.Sqrt(values.Average(v => (v - mean) * (v - mean)));

        // Five standard errors of the mean and of the deviation.
        Assert.InRange(mean, 10 - 0.071, 10 + 0.071);
        Assert.InRange(deviation, 2 - 0.05, 2 + 0.05);
    }
}
