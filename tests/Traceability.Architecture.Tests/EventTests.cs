using System.Text.RegularExpressions;
using Traceability.Domain.Facts;
using Traceability.Service.Storage;
using Xunit;

namespace Traceability.Architecture.Tests;

/// <summary>Every type of fact has a stored name that stays.</summary>
public sealed class EventTests
{
    private static readonly Type[] Facts =
        [.. typeof(Fact).Assembly.GetTypes().Where(t => t.IsSubclassOf(typeof(Fact)) && !t.IsAbstract && t != typeof(UnreadableFact))];

    [Fact]
    public void Every_fact_is_sealed() => Assert.All(Facts, t => Assert.True(t.IsSealed, t.Name));

    [Fact]
    public void Every_fact_has_a_stored_name_and_every_name_a_fact() => Assert.Equal(
        string.Join('\n', Facts.Select(t => t.Name).Order(StringComparer.Ordinal)),
        string.Join('\n', EventNames.All.Select(e => e.Type.Name).Order(StringComparer.Ordinal)));

    [Fact]
    public void Stored_names_are_in_snake_case_and_there_is_one_of_each()
    {
        Assert.All(EventNames.All, e => Assert.Matches(new Regex("^[a-z]+(_[a-z]+)+$", RegexOptions.ExplicitCapture, TimeSpan.FromSeconds(1)), e.Name));
        Assert.Equal(EventNames.All.Length, EventNames.All.Select(e => e.Name).Distinct(StringComparer.Ordinal).Count());
    }
}
