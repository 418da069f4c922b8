using FluentValidation;
using Traceability.Domain.Primitives;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Access;

/// <summary>A key that is asked for.</summary>
/// <param name="Name">Whose it will be; 1 to 100 characters, unique among all keys that ever were.</param>
/// <param name="Role">station, quality, engineer or admin.</param>
/// <param name="Station">The station's code; with the role station, and only then. Whether the station exists is checked when it sends something.</param>
internal sealed record CreateKeyRequest(string Name, string Role, string? Station = null);

/// <summary>Checks the form of what is asked for.</summary>
internal sealed class CreateKeyValidator : AbstractValidator<CreateKeyRequest>
{
    /// <summary>The most characters of a name.</summary>
    public const int NameLengthMax = 100;

    public CreateKeyValidator()
    {
        RuleFor(r => r.Name)
            .Must(n => n is { Length: > 0 and <= NameLengthMax } && !char.IsWhiteSpace(n[0]) && !char.IsWhiteSpace(n[^1]) && !n.Any(char.IsControl))
            .WithMessage($"A name has 1 to {NameLengthMax} characters, no space at either end and no control characters.");
        RuleFor(r => r.Role)
            .Must(r => Roles.All.Contains(r, StringComparer.Ordinal))
            .WithMessage($"A role is one of: {string.Join(", ", Roles.All)}.");
        RuleFor(r => r.Station)
            .Must(s => Codes.TryParse<StationCode>(s, out _))
            .When(r => r.Role == Roles.Station)
            .WithMessage($"A station's key names its station. {Codes.Form<StationCode>()}");
        RuleFor(r => r.Station)
            .Null()
            .When(r => r.Role != Roles.Station)
            .WithMessage("Only a key with the role station is bound to a station.");
    }
}
