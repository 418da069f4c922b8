using System.Globalization;
using System.Text.RegularExpressions;

namespace Traceability.Simulator.Plant;

/// <summary>Which demo it is. The first fact of every demo says so, so that one that was interrupted can be taken up again.</summary>
/// <param name="Seed">The seed.</param>
/// <param name="Finals">How many pumps are begun.</param>
/// <param name="Now">The end of the simulation, in whole seconds.</param>
public sealed partial record DemoScope(ulong Seed, int Finals, DateTimeOffset Now)
{
    /// <summary>The id of the first fact, the same in every demo: a service holds one demo.</summary>
    public static Guid FactId { get; } = SplitMix.For(0, "demo").Id();

    /// <summary>A sentence for the site's description.</summary>
    public string Describe() => string.Create(
        CultureInfo.InvariantCulture, $"Demo of seed {Seed} with {Finals} pumps, simulated up to {Now.UtcDateTime:yyyy-MM-dd'T'HH:mm:ss}Z.");

    /// <summary>Reads it from a description; null if that doesn't hold the sentence.</summary>
    public static DemoScope? Find(string text)
    {
        var match = Sentence().Match(text);
        return match.Success
            ? new(
                ulong.Parse(match.Groups["seed"].Value, CultureInfo.InvariantCulture),
                int.Parse(match.Groups["finals"].Value, CultureInfo.InvariantCulture),
                DateTimeOffset.Parse(match.Groups["now"].Value, CultureInfo.InvariantCulture))
            : null;
    }

    [GeneratedRegex(@"Demo of seed (?<seed>\d{1,20}) with (?<finals>\d{1,9}) pumps, simulated up to (?<now>[0-9T:-]+Z)\.", RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Sentence();
}
